"""Where a point of the found board lies on the sheet of the drawing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property

from buzzout.circuit import CHASSIS, Move, Part, Point, Remove
from buzzout.compare.findings import Comparison
from buzzout.report.drawing.sheet import Sheet


class Places:
    """Found points told as points of the sheet: the same pin, else the nearest drawn neighbour."""

    def __init__(self, sheet: Sheet, comparison: Comparison) -> None:
        """Places on one sheet."""
        self._sheet = sheet
        self._comparison = comparison
        self.drawn_name = {
            found: drawn
            for drawn, names in comparison.matching.parts.items()
            for found in names
        }  # fmt: skip

    def same(self, point: Point) -> Point | None:
        """The very same pin or lead on the sheet, None where it is not drawn."""
        if point == CHASSIS:
            return CHASSIS
        name = self.drawn_name.get(point.owner, point.owner)
        drawn = self._sheet.circuit.parts.get(name)
        if drawn is None:
            return Point(name) if not point.pin and name in self._sheet.circuit.names else None
        fitted = self._comparison.found.parts.get(point.owner)
        pin = self._turned(drawn, fitted, point.pin) if fitted else point.pin
        at = Point(name, pin)
        return at if at in self._sheet.pin_at else None

    def near(self, point: Point, not_by: Point | None = None) -> Point | None:
        """The same pin, or the first drawn one that is joined to it without the link to `not_by`.

        Leads that findings call misplaced do not count as neighbours.
        """
        links_at = self._comparison.found.links_at
        queue, seen = [point], {point}
        while queue:
            here = queue.pop(0)
            on_sheet = self.same(here)
            if on_sheet is not None and (here == point or here not in self._misplaced):
                return on_sheet
            for link in links_at.get(here, ()):
                far = link.other(here)
                if far not in seen and {here, far} != {point, not_by}:
                    seen.add(far)
                    queue.append(far)
        return self._by_node(point)

    def alone(self, point: Point) -> Point | None:
        """The pin on the sheet, where on the board nothing else of its drawn node is joined to it.

        So a pin that lost its one connection is told from two groups that should be one.
        """
        pin = self.same(point)
        if pin is None or pin not in self._sheet.pin_at:
            return None
        found = self._comparison.found
        here = found.node_of.get(point)
        group = [
            other
            for name in self._comparison.found.parts
            for other in found.parts[name].points
            if found.node_of.get(other) == here and other != point
        ]
        drawn = {self.same(other) for other in group}
        ends = self._sheet.ends[self._sheet.circuit.node(pin)]
        return None if any(end.point in drawn for _block, end in ends) else pin

    def _by_node(self, point: Point) -> Point | None:
        node = self._comparison.found.node_of.get(point)
        for drawn, found in self._comparison.matching.nodes.items():
            if node in found and self._sheet.ends.get(drawn):
                return self._sheet.ends[drawn][0][1].point
        return None

    @cached_property
    def _misplaced(self) -> frozenset[Point]:
        return frozenset(self._wrong_ends())

    def _wrong_ends(self) -> Iterator[Point]:
        found = self._comparison.found
        for finding in self._comparison.findings:
            for edit in finding.remedy:
                if isinstance(edit, Move):
                    yield edit.fixed
                elif isinstance(edit, Remove) and edit.part in found.parts:
                    yield from found.parts[edit.part].points

    def _turned(self, drawn: Part, fitted: Part, pin: str) -> str:
        """The drawn terminal for a fitted one: parts without direction may sit turned round."""
        if drawn.swap != "same" or pin not in fitted.terminals:
            return pin
        straight, crossed = (self._agreement(drawn, fitted, flip) for flip in (False, True))
        at = fitted.terminals.index(pin)
        return drawn.terminals[1 - at if crossed > straight else at]

    def _agreement(self, drawn: Part, fitted: Part, flip: bool) -> int:
        nodes: Mapping[int, tuple[int, ...]] = self._comparison.matching.nodes
        theirs = fitted.points[::-1] if flip else fitted.points
        pairs = zip(drawn.points, theirs, strict=True)
        found, sheet = self._comparison.found, self._sheet.circuit
        return sum(found.node(b) in nodes.get(sheet.node(a), ()) for a, b in pairs)
