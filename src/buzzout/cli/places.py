"""Points and parts by name: those of a file or, on a chassis, those of its drawing.

On a chassis hardly any small part has a name. What a name of the drawing stands for there is found
by comparing the two, once, and only when such a name is used.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from buzzout.cli.common import fail

if TYPE_CHECKING:
    from buzzout.circuit import Circuit, Point
    from buzzout.cli.standing import Files
    from buzzout.compare import Matching


class Places:
    """What names mean in the files of one command."""

    def __init__(self, files: Files) -> None:
        """Take the files; nothing is compared yet."""
        self._files = files

    def point(self, text: str, circuit: Circuit, option: str) -> Point:
        """A point of a circuit; a lead of a drawn part is looked for on the chassis."""
        from buzzout.circuit import CHASSIS, Point

        if text.lower() in ("chassis", "ground"):
            return CHASSIS
        owner, _, pin = text.partition(".")
        at = Point(owner, pin)
        if at in circuit.node_of:
            return at
        drawn, matching = self._files.drawn, self._matching
        if circuit is not self._files.found or drawn is None or matching is None:
            fail(f"{option} {text}: there is no such point in {circuit.file or 'the file'}")
        if at not in drawn.node_of:
            fail(f"{option} {text}: there is no such point on the chassis, nor on the drawing")
        names = matching.parts.get(owner, ())
        nodes = set(matching.nodes.get(drawn.node_of[at], ()))
        ends = [p for name in names if name in circuit.parts for p in circuit.parts[name].points]
        near = [p for p in ends if circuit.node_of.get(p) in nodes] or [
            p for p in ends if p.pin == pin
        ]
        if len(names) != 1 or not near:
            fail(f"{option} {text}: {self._missing(owner, names)}")
        return near[0]

    def part(self, name: str, circuit: Circuit, option: str) -> str:
        """The name of a part in a circuit."""
        if name in circuit.parts:
            return name
        matching = self._matching if circuit is self._files.found else None
        names = matching.parts.get(name, ()) if matching else ()
        if len(names) != 1:
            fail(f"{option}: {self._missing(name, names)}")
        return names[0]

    def _missing(self, name: str, names: tuple[str, ...]) -> str:
        if names:
            return (
                f"on the chassis {len(names)} parts stand for {name}: name the point of one of them"
            )
        return (
            f"nothing on the chassis was recognised as {name} of the drawing; name a point of the"
            " chassis, such as a tag or a socket pin"
        )

    @cached_property
    def _matching(self) -> Matching | None:
        from buzzout.compare import compare

        drawn, found = self._files.drawn, self._files.found
        return None if drawn is None or found is None else compare(drawn, found).matching
