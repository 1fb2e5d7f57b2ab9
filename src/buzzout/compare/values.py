"""Is this the right part? Values, tolerances, ratings and types of one part against another."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isclose, log, sqrt

from buzzout.catalogue import difference
from buzzout.catalogue.codes import colour_slip
from buzzout.circuit import KINDS, Element, Part, Quantity, listed, printed

# Tolerance where the drawing states none, as fractions below and above. 20 % is what "no tolerance
# band" means (IEC 60062); -20 to +100 % for electrolytics is what old ones were sold with (common
# practice). A lamp's volts and a fuse's amps are designations, not measures.
DEFAULT_TOLERANCE = {"electrolytic": (0.2, 1.0), "lamp": (0.1, 0.1), "fuse": (0.01, 0.01)}
USUAL = (0.2, 0.2)
# Kinds that a hand takes for one another. Other kinds are never the same part.
FAMILIES = (("capacitor", "electrolytic"), ("resistor", "thermistor", "inductor"), ("lamp", "neon"))
STRANGE = 9  # how far apart the values of different kinds are
# Classes of mains capacitors that may stand in a place drawn for another: they stand higher peaks
# (IEC 60384-14: X2 2.5 kV, X1 4 kV, Y2 5 kV, Y1 8 kV; figures from memory).
AS_GOOD = {"X2": ("X1", "Y2", "Y1"), "X1": ("Y2", "Y1"), "Y2": ("Y1",), "Y1": ()}
RATINGS = (("voltage", "V"), ("power", "W"), ("current", "A"))


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing to say about a part in its place. `unread` remarks are neither right nor wrong."""

    kind: str
    words: str
    harmless: bool = False
    unread: bool = False


@dataclass(frozen=True, slots=True)
class Verdict:
    """All remarks about a part in a place, and how far the values lie apart (0 alike, 9 far)."""

    remarks: tuple[Remark, ...] = ()
    apart: int = 0

    @property
    def wrong(self) -> tuple[Remark, ...]:
        """What has to be mended."""
        return tuple(r for r in self.remarks if not r.harmless and not r.unread)

    @property
    def unread(self) -> tuple[Remark, ...]:
        """What nobody could read."""
        return tuple(r for r in self.remarks if r.unread)


def tolerance(part: Part, value: Quantity) -> tuple[float, float]:
    """Tolerance below and above, as fractions: the stated one, else the usual one of the kind."""
    minus, plus = DEFAULT_TOLERANCE.get(part.kind, USUAL)
    return (
        minus if value.minus is None else value.minus,
        plus if value.plus is None else value.plus,
    )


def window(part: Part) -> tuple[float, float]:
    """Lowest and highest main value that the drawing allows. The part must have a value."""
    assert part.value is not None
    minus, plus = tolerance(part, part.value)
    return part.value.value * (1 - minus), part.value.value * (1 + plus)


def kin(a: str, b: str) -> bool:
    """Kinds that may stand for one another, rightly or wrongly."""
    return a == b or any(a in family and b in family for family in FAMILIES)


def judge(wanted: Part, fitted: Part) -> Verdict:
    """What is to say about `fitted` in the place of `wanted`."""
    if wanted.kind != fitted.kind:
        return _other_kind(wanted, fitted)
    if fitted.type == "none" and wanted.type != "none":
        return Verdict((Remark("part-missing", _empty(wanted)),))
    remarks = [
        *_value(wanted, fitted),
        *_ratings(wanted, fitted),
        *_mains_class(wanted, fitted),
        *_type(wanted, fitted),
        *_polarity(wanted, fitted),
    ]
    return Verdict(tuple(remarks), _apart(wanted, fitted))


def _empty(wanted: Part) -> str:
    """What to say of a holder with nothing in it, or of a can that was taken out."""
    if wanted.kind == "socket":
        return f"its socket is empty; {article(wanted.type or 'valve')} belongs in it"
    return "it is not there" if wanted.kind == "can" else "its holder is empty"


def _other_kind(wanted: Part, fitted: Part) -> Verdict:
    unpolarised = wanted.kind == "electrolytic" and fitted.kind == "capacitor"
    if unpolarised and not judge(wanted, replace(fitted, kind="electrolytic")).wrong:
        words = "a capacitor without polarity stands where an electrolytic is drawn"
        return Verdict((Remark("equivalent-type", words, harmless=True),), 5)
    words = f"{article(described(fitted))} is fitted instead of {article(described(wanted))}"
    return Verdict((Remark("wrong-type", words),), STRANGE)


def _value(wanted: Part, fitted: Part) -> list[Remark]:
    if wanted.value is None:
        return []
    if fitted.value is None and fitted.measured is None:
        return [Remark("not-verified", "its value was not read", unread=True)]
    if fitted.measured is not None and (told := _measured(wanted, fitted)):
        return [] if told[0].kind == "as-drawn" else told
    if fitted.value is None:
        words = f"it reads {fitted.measured} in circuit and its marking was not read"
        return [Remark("not-verified", words, unread=True)]
    low, high = window(wanted)
    if _inside(fitted.value.value, low, high):
        return []
    return [Remark("value-wrong", _wrong_value(wanted, fitted, fitted.value))]


def _measured(wanted: Part, fitted: Part) -> list[Remark]:
    """What a reading tells; nothing where an in-circuit reading decides nothing.

    In circuit other parts lie in parallel: a resistor reads at most its value, a capacitor at
    least. So only a reading on the far side says anything.
    """
    assert wanted.value is not None
    assert fitted.measured is not None
    low, high = window(wanted)
    reads = fitted.measured.value
    if fitted.in_circuit:
        too_far = reads > high if value_unit(fitted) == "ohm" else reads < low
        if not too_far:
            return []
    if _inside(reads, low, high):
        return [Remark("as-drawn", "", harmless=True)]
    marked = fitted.value
    if marked is not None and _inside(marked.value, low, high):
        words = (
            f"it is marked {marked} and reads {fitted.measured}: "
            f"{_percent(reads, marked.value)} off its marking"
        )
        return [Remark("value-drifted", words)]
    return [Remark("value-wrong", _wrong_value(wanted, fitted, fitted.measured))]


def _wrong_value(wanted: Part, fitted: Part, seen: Quantity) -> str:
    assert wanted.value is not None
    verb = "reads" if seen is fitted.measured else "is"
    slip = colour_slip(seen, wanted.value) if seen is fitted.value else ""
    return f"it {verb} {seen} instead of {wanted.value}" + (f" ({slip})" if slip else "")


def _inside(value: float, low: float, high: float) -> bool:
    return low * (1 - 1e-9) <= value <= high * (1 + 1e-9)


def _percent(value: float, of: float) -> str:
    return f"{100 * (value / of - 1):+.0f} %"


def _ratings(wanted: Part, fitted: Part) -> list[Remark]:
    remarks = []
    alike = bool(wanted.mains_class) == bool(fitted.mains_class)
    for key, unit in RATINGS:
        asked, there = getattr(wanted, key), getattr(fitted, key)
        if asked is None or there is None or isclose(asked.value, there.value, rel_tol=1e-6):
            continue
        if key == "voltage" and not alike:
            continue  # the volts of a class are alternating ones: see `_mains_class`
        shown = f"rated {printed(there.value, unit)} where {printed(asked.value, unit)} is drawn"
        if there.value < asked.value:
            remarks.append(Remark("under-rated", f"it is {shown}"))
        else:
            remarks.append(Remark("better-rating", f"it is {shown}", harmless=True))
    return remarks


def _mains_class(wanted: Part, fitted: Part) -> list[Remark]:
    """Another capacitor than one made for the mains burns, or puts them on the chassis."""
    asked, there = wanted.mains_class, fitted.mains_class
    if there and not asked:
        return _for_direct_volts(wanted, fitted)
    if asked == there:
        return []
    if there in AS_GOOD[asked]:
        words = f"it is of class {there} where {asked} is drawn"
        return [Remark("better-rating", words, harmless=True)]
    if there:
        return [Remark("under-rated", f"it is of class {there} where {asked} is drawn")]
    if fitted.style:
        words = f"it is {listed(fitted.style)}, not made for the mains: class {asked} is drawn"
        return [Remark("under-rated", words)]
    words = f"no mains class was noted on it: {asked} is drawn, look for that mark"
    return [Remark("not-verified", words, unread=True)]


def _for_direct_volts(wanted: Part, fitted: Part) -> list[Remark]:
    """A mains capacitor where direct volts are drawn: it stands at least the peaks of its own."""
    if wanted.voltage is None or fitted.voltage is None:
        return []
    peak, asked = sqrt(2) * fitted.voltage.value, wanted.voltage.value
    words = f"it is of class {fitted.mains_class}, for {fitted.voltage} of mains"
    if peak >= asked:
        return [Remark("better-rating", words, harmless=True)]
    words += f": across the mains that is the right kind, for {wanted.voltage} direct look it up"
    return [Remark("not-verified", words, unread=True)]


def _type(wanted: Part, fitted: Part) -> list[Remark]:
    if not wanted.type:
        return []
    kind = "wrong-valve" if wanted.kind == "socket" else "wrong-type"
    if not fitted.type:
        empty = "type" not in fitted.unread and wanted.kind == "socket"
        words = "no valve was noted in it" if empty else "its type was not read"
        return [Remark("not-verified", words, unread=True)]
    told = difference(wanted.type, fitted.type)
    if told.same:
        if _spelt(wanted.type) == _spelt(fitted.type):
            return []
        words = f"{fitted.type} is fitted, the same valve as {wanted.type}"
        if wanted.kind != "socket":
            words = f"{fitted.type} is fitted, the same as {wanted.type}"
        return [Remark("equivalent-type", words, harmless=True)]
    if any(difference(also, fitted.type).same for also in wanted.accepts):
        words = f"{fitted.type} is fitted, which the drawing allows for {wanted.type}"
        return [Remark("equivalent-type", words, harmless=True)]
    reasons = "" if told.unknown else "; ".join(told.reasons)
    words = f"{fitted.type} is fitted instead of {wanted.type}" + (f" ({reasons})" * bool(reasons))
    return [Remark(kind, words)]


def _spelt(designation: str) -> str:
    return "".join(c for c in designation.upper() if c.isalnum())


def _polarity(wanted: Part, fitted: Part) -> list[Remark]:
    if wanted.swap == "reversed" and "polarity" in fitted.unread:
        return [Remark("not-verified", "which way round it sits was not read", unread=True)]
    return []


def _apart(wanted: Part, fitted: Part) -> int:
    """Distance of two values in steps of about 5 %, at most 9; a preference between equals."""
    seen = fitted.measured if fitted.measured and not fitted.in_circuit else fitted.value
    if wanted.value is None or seen is None or min(wanted.value.value, seen.value) <= 0:
        return 0
    return min(9, int(20 * abs(log(seen.value / wanted.value.value)) + 1e-6))


def alike(a: Element, b: Element, kind: str) -> bool:
    """Two sections of one thing are so alike that exchanging them changes nothing."""
    if (a.value is None) != (b.value is None):
        return False
    if a.value is not None and b.value is not None:
        minus, plus = DEFAULT_TOLERANCE.get(kind, USUAL)
        low, high = a.value.span(minus)[0], a.value.value * (1 + (a.value.plus or plus))
        if not _inside(b.value.value, low, high):
            return False
    return (a.voltage and a.voltage.value) == (b.voltage and b.voltage.value)


def described(part: Part) -> str:
    """`100k resistor`, `22n capacitor`, `ECC83 socket`; the kind alone where no value is known."""
    seen = part.value or part.measured
    words = str(seen) if seen is not None else part.type
    return f"{words} {part.kind}".strip()


def article(words: str) -> str:
    """`a 100k resistor`, `an 82k resistor`, `an electrolytic`, `an ECC83`."""
    eight = words[:1] == "8" or (words[:2] in ("11", "18") and not words[2:3].isdigit())
    return ("an " if words[:1].lower() in "aeiou" or eight else "a ") + words


def value_unit(part: Part) -> str:
    """The unit of a part's main value."""
    return KINDS[part.kind].unit
