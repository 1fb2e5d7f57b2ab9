"""The figures of a winding: volts and ohms as people type them, and none that goes astray."""

import pytest

from buzzout.language import load


@pytest.fixture
def wind(write):
    """Load a drawing with one transformer that has this winding."""

    def _wind(rest):
        text = f'reference "x"\nsocket V1 B9A ECC83\ntransformer T1\nwinding T1 {rest}\n'
        loaded = load(write(text + "wire T1.a V1.1\nwire T1.b V1.2\n"))
        elements = loaded.circuit.parts["T1"].elements
        return elements[0] if elements else None, loaded

    return _wind


@pytest.mark.parametrize(
    ("figures", "taps"),
    [
        ("6.3V", (0, 6.3)),
        ("6,3V", (0, 6.3)),
        ("6,3 V", (0, 6.3)),
        ("6V3", (0, 6.3)),
        ("6.3v", (0, 6.3)),
        ("0-6,3V", (0, 6.3)),
        ("0-6V3", (0, 6.3)),
        ("0V-6.3V", (0, 6.3)),
        ("0-2.5kV", (0, 2500)),
        ("0-500mV", (0, 0.5)),
    ],
)
def test_volts_between_two_terminals(wind, figures, taps):
    winding, loaded = wind(f"heater a b {figures} 2,5A dcr 0,1R")
    assert loaded.problems == ()
    assert winding.taps == pytest.approx(taps)
    assert winding.current.value == 2.5
    assert winding.resistance == (0.1,)


@pytest.mark.parametrize(
    ("figures", "taps"),
    [
        ("250-0-250V", (-250, 0, 250)),
        ("0-110,5-230V", (0, 110.5, 230)),
        ("3,15-0-3,15V", (-3.15, 0, 3.15)),
        ("3V15-0-3V15", (-3.15, 0, 3.15)),
        ("250-0-250v", (-250, 0, 250)),
    ],
)
def test_volts_of_a_tapped_winding(wind, figures, taps):
    winding, loaded = wind(f"ht a b c {figures}")
    assert loaded.ok, loaded.problems
    assert winding.taps == pytest.approx(taps)


@pytest.mark.parametrize(
    ("figures", "message"),
    [
        ("6.3V 20VA", "'20VA' does not belong on a winding"),
        ("6.3V 50 Hz", "'50Hz' does not belong on a winding"),
        ("6.3V 8", "'8' does not belong on a winding"),
        ("6.3VAC", "'6.3VAC' has no unit that I know behind the number"),
        ("6.3V 5V", "a second voltage for one winding"),
        ("6.3V 3A 2A", "a second current for one winding"),
        ("2H 3H", "a second inductance for one winding"),
        ("load 3k load 4k", "a second load for one winding"),
        ("dcr 1R dcr 2R", "a second resistance: 1R and 2R"),
        ("6.3V dcr 1R+2R", "2 resistances for 2 terminals"),
        ("8k", "8k of what?"),
        ("0-6.3A", "'6.3A' is in A, expected V"),
    ],
)
def test_a_figure_that_is_not_kept_is_a_mistake(wind, figures, message):
    _, loaded = wind(f"heater a b {figures}")
    assert [p.message for p in loaded.problems if p.level == "error"] == [message]
