"""The `mains` line of a drawing: voltage, frequency, region."""

from __future__ import annotations

from lark import Tree

from buzzout.catalogue import nearest
from buzzout.catalogue.regions import region_names
from buzzout.circuit import Mains, Quantity
from buzzout.language.figures import doubted
from buzzout.language.gather import Statement
from buzzout.language.problems import ProblemList
from buzzout.language.values import FactReader, designation

_FORM = "mains 230 V 50 Hz region UK"


def mains(statement: Statement, problems: ProblemList) -> Mains | None:
    """What the set is fed with; None after noting why that is not told."""
    reader = FactReader("", statement.line, problems)
    trees = [c for c in statement.tree.children if isinstance(c, Tree)]
    found: dict[str, Quantity] = {}
    for tree in trees:
        quantity = reader.quantity(tree) if tree.data == "quantity" else None
        if quantity is None:
            continue
        if quantity.unit not in ("V", "Hz") or quantity.unit in found:
            more = "a second figure in" if quantity.unit in found else "mains are not told in"
            unit = quantity.unit or "bare numbers"
            problems.error(statement.line.span(tree), f"{more} {unit}", _FORM)
        found.setdefault(quantity.unit, quantity)
    if "V" not in found:
        problems.error(statement.span, "which mains voltage?", "mains 230 V 50 Hz")
        return None
    if doubt := doubted(found["V"]):
        problems.warn(statement.span, *doubt)
    regions = [tree for tree in trees if tree.data == "name"]
    for tree in regions:
        name, known = designation(tree), region_names()
        if name.upper() not in known:
            close = nearest(name, known, 1)
            meant = f"did you mean {close[0]}? " if close else ""
            message = f"I know no region {name!r}: lead colours of any region pass"
            problems.warn(statement.line.span(tree), message, f"{meant}Known: {', '.join(known)}")
    region = designation(regions[0]) if regions else ""
    return Mains(found["V"], found.get("Hz"), region)
