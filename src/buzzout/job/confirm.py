"""How to confirm a finding with a meter before anything is unsoldered."""

from __future__ import annotations

from buzzout.circuit import Part
from buzzout.compare import Comparison, Finding
from buzzout.job.phase import GRID, TRIAL, coil, oscillates, unmarked

CAUTION = (
    "Lethal voltages, also after switching off. Unplug; discharge each reservoir through a"
    " resistor and measure that it is discharged. One hand, no jewellery, never alone. A set"
    " without a mains transformer has a live chassis. If you are not competent, do not open it."
    " Local codes and licensed practice come first: this tool checks what was typed in and"
    " nothing else."
)


def confirm(finding: Finding, comparison: Comparison, reading: str = "") -> str:
    """What the person with the meter does; "" where there is nothing to measure.

    `reading` is the computed sentence of an ohmmeter. It stands for buzzing, and beside looking at
    a part or lifting its lead.
    """
    table = {
        "part-missing": _missing,
        "part-extra": _value_there,
        "value-wrong": _value_there,
        "value-drifted": _value_there,
        "values-exchanged": _value_there,
        "under-rated": lambda *_: "Read the rating printed on the part.",
        "wrong-type": lambda *_: "Read the type printed on the part.",
        "wrong-valve": lambda *_: "Read the type on the valve, not on its carton.",
        "equivalent-type": lambda *_: "",
        "reversed": _polarity,
        "bridge": _bridged,
        "connection-missing": _open,
        "not-verified": lambda *_: "Look again, from both ends.",
        "socket-mirrored": _pin_one,
        "socket-shifted": _pin_one,
    }
    if finding.harmless or coil(finding):
        return ""
    if unmarked(finding):
        return TRIAL
    if oscillates(finding):
        return GRID
    told = table.get(finding.kind, _buzz)
    if reading and told in _BY_METER:
        return reading
    return " ".join(sentence for sentence in (told(finding, comparison), reading) if sentence)


def _drawn(finding: Finding, comparison: Comparison) -> Part | None:
    names = [name for name in finding.parts if name in comparison.reference.parts]
    return comparison.reference.parts[names[0]] if names else None


def _missing(finding: Finding, comparison: Comparison) -> str:
    part = _drawn(finding, comparison)
    if part is None:
        return ""
    where = " and ".join(str(p) for p in finding.points[:2]) or "its two points"
    if part.kind == "resistor" and part.value is not None:
        return f"Between {where} the meter must read no more than {part.value} once it is fitted."
    return f"Look between {where}: nothing but the drawn parts may sit there."


def _value_there(finding: Finding, comparison: Comparison) -> str:
    part = comparison.found.parts.get(finding.found[0]) if finding.found else None
    kind = part.kind if part else ""
    if kind in ("capacitor", "electrolytic", "can"):
        return "Lift one lead and use a capacitance meter: no ohmmeter tells this."
    if kind == "fuse":
        return "Read the value on the fuse link itself, not on its holder."
    if kind == "resistor":
        return "Lift one lead and measure it: in circuit a resistor can only read low."
    return "Read the marking, and measure it with one lead lifted."


def _polarity(finding: Finding, comparison: Comparison) -> str:
    part = _drawn(finding, comparison)
    if part is not None and part.kind == "diode":
        return "Use the diode range both ways; the band is the cathode."
    return "Look for the - stripe or the red + end on its sleeve."


def _pair(finding: Finding) -> str:
    return " and ".join(str(p) for p in finding.points[:2])


def _bridged(finding: Finding, _: Comparison) -> str:
    return f"Buzz {_pair(finding)}: they are joined now and must not be." if finding.points else ""


def _open(finding: Finding, _: Comparison) -> str:
    if len(finding.points) == 1:  # a lead in the air
        return "Look at the lead: does it really touch nothing?"
    return f"Buzz {_pair(finding)}: they must be joined and are not." if finding.points else ""


def _buzz(finding: Finding, _: Comparison) -> str:
    return (
        f"Buzz the lead out to {_pair(finding)} before you unsolder it." if finding.points else ""
    )


def _pin_one(_finding: Finding, _: Comparison) -> str:
    return "Find the key or gap and count again, clockwise seen from below."


_BY_METER = (_missing, _bridged, _open, _buzz)
