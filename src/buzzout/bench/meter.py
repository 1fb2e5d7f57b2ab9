"""What an ohmmeter shows at a finding before the work and after it."""

from __future__ import annotations

import math

from buzzout.circuit import CannotApply, Circuit, apply, printed
from buzzout.compare import Comparison, Finding
from buzzout.electrics.checks import Advice, Check, fewest_checks, meter_check
from buzzout.electrics.resistance import Range

_MILLI, _NOTHING = 0.1, 5e-5  # below the one in mV, at the other nothing [V]


def check(finding: Finding, comparison: Comparison) -> Advice:
    """Where to put the probes to tell this finding from its remedy, or what else would tell.

    Unplugged, valves out. "Repaired" is the chassis with this finding alone put right; where that
    cannot be said without the others, with the whole list put right.
    """
    if not finding.remedy:
        return Advice(None)
    return meter_check(comparison.found, alone(finding, comparison))


def round_trip(comparison: Comparison, findings: tuple[Finding, ...]) -> tuple[Check, ...]:
    """The fewest readings that bear on all these findings, before any iron is hot."""
    repairs = [alone(f, comparison) for f in findings if f.remedy]
    return fewest_checks(comparison.found, repairs)[0]


def alone(finding: Finding, comparison: Comparison) -> Circuit:
    """The chassis with one finding put right; with all of them where that cannot be said alone."""
    try:
        return apply(comparison.found, finding.remedy)
    except CannotApply:
        return comparison.repaired


def ohms(span: Range) -> str:
    """A range as a person reads it on a meter.

    >>> ohms(Range(100e3, 90e3, 110e3)), ohms(Range(0.0, 0.0, 0.0))
    ('89.1k to 111k', 'less than 1R')
    """
    low, high = span.widened()
    if math.isinf(low):
        return "open"
    if high < 1:
        return "less than 1R"
    shown = "open" if math.isinf(high) else printed(float(f"{high:.3g}"), "ohm")
    if low < 0.5:
        return f"at most {shown}"
    return f"{printed(float(f'{low:.3g}'), 'ohm')} to {shown}"


def volts(low: float, high: float) -> str:
    """A range of volts with one prefix for both ends. [V].

    >>> volts(0.0071, 0.0104), volts(-0.08, 0.1), volts(131.2, 145.0), volts(0.00001, 0.0)
    ('7.1 to 10.4 mV', '-0.08 to 0.1 V', '131.2 to 145 V', '0 to 0 V')
    """
    largest = max(abs(low), abs(high))
    size, unit = (1e-3, "mV") if _NOTHING < largest < _MILLI else (1.0, "V")
    one, other = (0.0 if abs(v) <= _NOTHING else v / size for v in (low, high))
    figures = 3 if unit == "mV" else 4
    return f"{one:.{figures}g} to {other:.{figures}g} {unit}"
