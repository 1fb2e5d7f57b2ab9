import math
from pathlib import Path

import pytest
from boards import Board, point

from buzzout.circuit import CHASSIS, Change, apply, parse
from buzzout.electrics.bringup import bring_up
from buzzout.electrics.draft import Power, Supply
from buzzout.electrics.ratings import audit
from buzzout.electrics.stress import FINE, NEAR, ORDER, OVER
from buzzout.language.load import read

AMP = Path(__file__).parent / "cases" / "small_amp.buzz"


def find(stresses, part, what="power"):
    return next(s for s in stresses if s.part == part and s.what == what)


def fed(board, volts):
    return audit(board.circuit(), Power(supplies=(Supply(point("HT"), CHASSIS, volts),)))


@pytest.mark.parametrize(
    ("watts", "verdict"), [("0.25W", OVER), ("0.5W", NEAR), ("1W", FINE), (None, ORDER)]
)
def test_power_of_a_resistor(watts, verdict):
    """200 V across 100 k is 0.4 W; half of the rating is the margin."""
    board = Board().r("R1", "100k", "HT", "chassis", power=parse(watts) if watts else None)
    got = find(fed(board, 200.0), "R1")
    assert got.value == pytest.approx(0.4, rel=1e-6)
    assert got.verdict == verdict
    if verdict == ORDER:
        assert got.order == 1.0


@pytest.mark.parametrize(
    ("volts", "verdict"), [("160V", OVER), ("220V", NEAR), ("400V", FINE), (None, ORDER)]
)
def test_voltage_of_a_capacitor(volts, verdict):
    board = Board().r("R1", "100k", "HT", "chassis")
    board.c("C1", "22n", "HT", "chassis", voltage=parse(volts) if volts else None)
    got = find(fed(board, 200.0), "C1", "voltage")
    assert got.value == pytest.approx(200.0, rel=1e-6)
    assert got.verdict == verdict


def test_electrolytic_the_wrong_way_round():
    board = Board().r("R1", "100k", "HT", "chassis").e("C1", "8u", "chassis", "HT")
    assert find(fed(board, 200.0), "C1", "reverse voltage").verdict == OVER


def test_sections_exchanged_put_ht_on_the_cathode_section():
    amp = read(AMP)
    swapped = apply(amp, [Change("C6", amp.parts["C21"]), Change("C21", amp.parts["C6"])])
    got = find(audit(swapped), "C21", "voltage")
    assert got.verdict == OVER
    assert got.value / got.limit > 10


@pytest.fixture(scope="module")
def amp_audit():
    return audit(read(AMP))


@pytest.mark.parametrize(
    ("place", "low", "high", "limit"),
    [
        (("V4", "anode dissipation"), 9.5, 11.5, 12.0),
        (("V4", "cathode current"), 36, 45, 65.0),
        (("V1", "direct current"), 75, 95, 150.0),
        (("V2/1", "heater to cathode"), 60, 80, 180.0),
        (("C20.square", "voltage"), 400, 425, 450.0),
        (("F1", "current"), 0.2, 0.35, 1.0),
        (("T1 heaters", "current"), 2.7, 3.2, 4.0),
    ],
)
def test_the_amplifier(amp_audit, place, low, high, limit):
    got = find(amp_audit, *place)
    assert low < got.value < high
    assert got.limit == pytest.approx(limit)


def test_worst_stands_first(amp_audit):
    order = [OVER, NEAR, ORDER, FINE]
    ranks = [order.index(s.verdict) for s in amp_audit]
    assert ranks == sorted(ranks)


def test_cathode_resistor_too_small_burns_the_valves():
    amp = read(AMP)
    small = apply(amp, [Change("R10", amp.parts["R41"])])  # 3k9 where 130 ohm belongs, then less
    cool = find(audit(small), "V4", "anode dissipation")
    assert cool.value < 4
    tiny = amp.parts["R10"].__class__(
        "R10", "resistor", ("1", "2"), parse("47R", "ohm"), power=parse("1W")
    )
    hot = audit(apply(amp, [Change("R10", tiny)]))
    assert find(hot, "V4", "anode dissipation").verdict == OVER
    assert math.isfinite(find(hot, "R10").value)


def test_ripple_of_a_bridge_is_the_reservoirs_alone():
    """A bridge's minus is the chassis: a capacitor elsewhere to chassis has none of its ripple."""
    board = Board(mains=("230V", "50Hz")).winding_part(
        "T1", "transformer",
        [("primary", "0 230", (0, 230), (1e-3,)), ("ht", "a b", (0, 250), (60,))],
    )  # fmt: skip
    board.part("B1", "bridge", None, "T1.a", "T1.b", "HT", "chassis")
    board.e("C1", "16u", "HT", "chassis").r("RL", "4k", "HT", "chassis")
    board.r("R1", "100k", "HT", "A").r("R2", "1k", "A", "chassis").e("C2", "25u", "A", "chassis")
    got = audit(board.circuit())
    small = find(got, "C2", "voltage")
    assert small.value < 5
    assert find(got, "C1", "ripple current").value > 0.1
    assert not [s for s in got if s.part == "C2" and s.what == "ripple current"]


def capacitor_set(rated):
    """385 V r.m.s. into a can: 544 V at the crest while no valve draws current."""
    board = Board(mains=("230V", "50Hz")).winding_part(
        "T1", "transformer",
        [("primary", "0 230", (0, 230), (20.0,)), ("ht", "a ct b", (-385, 0, 385), (150, 150)),
         ("heaters", "h1 h2", (0, 6.3), (0.1,))],
        ct="chassis", h1="V2.4", h2="V2.5",
    )  # fmt: skip
    board.part("D1", "diode", None, "T1.a", "HT").part("D2", "diode", None, "T1.b", "HT")
    board.e("C1", "32u", "HT", "chassis", voltage=parse(rated))
    board.valve("V2", "EL84", p2="chassis", p3="K", p7="HT", p9="HT", p4="HA", p5="HB")
    return board.r("RK", "200R", "K", "chassis").circuit()


@pytest.mark.parametrize(("rated", "verdict"), [("500V", OVER), ("630V", FINE)])
def test_surge_above_the_rating_of_a_can(rated, verdict):
    circuit = capacitor_set(rated)
    told = find(audit(circuit), "C1", "voltage")
    assert told.value == pytest.approx(1.1 * 385 * math.sqrt(2), rel=0.02)  # mains 10 % high
    assert told.verdict == verdict
    assert told.when.startswith("before the heaters are warm")
    steps = {(s.fraction, s.heat): " ".join(s.stop) for s in bring_up(circuit)}
    assert ("C1 above its rating: 542 V" in steps[1.0, "starting"]) == (verdict == OVER)
    assert "above its rating" not in steps[0.75, "starting"]


def test_windings_and_chokes_by_what_flows_in_them():
    """The rectifier's heater winding stands on the HT and carries heater current all the same."""
    hall = read(Path(__file__).parents[2] / "examples/hall-amplifier/hall-amplifier.reference.buzz")
    told = audit(hall)
    heater = find(told, "T1 rectifier", "current")
    assert heater.value == pytest.approx(1.0, rel=0.05)  # an EZ81 takes 1 A
    assert heater.limit == 1.2
    assert find(told, "T1 ht", "direct current").value == pytest.approx(0.072, rel=0.08)
    choke = find(told, "L1", "direct current")  # screens and small valves, not the output valves
    assert choke.value == pytest.approx(0.013, rel=0.15)
    assert choke.limit == 0.06
    primary = find(told, "T1 primary", "current")
    assert primary.verdict == ORDER
    assert primary.order == pytest.approx(primary.value / 0.9)


HEATERS = """reference "Heaters"
mains 230 V 50 Hz region UK
cord M1 L brown N blue E green/yellow
transformer T1
winding T1 primary 0 230 230V dcr 30R
winding T1 heaters h1 h2 6.3V 1.5A {dcr}
wire M1.L T1.230
wire M1.N T1.0
wire T1.h2 chassis
socket V1 B9A {rectifier}
socket V2 B9A ECC83
heaters V1 V2 from T1.h1 T1.h2
lamp PL1 6.3V 0.3A
wire PL1.1 T1.h1
wire PL1.2 T1.h2
"""


@pytest.mark.parametrize("dcr", ["dcr 0.02R", "dcr 0.5R"])
@pytest.mark.parametrize(
    ("rectifier", "amps", "verdict"), [("EZ80", 0.6 + 0.3 + 0.3, FINE), ("EZ81", 1.6, OVER)]
)
def test_the_currents_of_the_heaters_on_a_winding_are_summed(
    tmp_path, dcr, rectifier, amps, verdict
):
    """By the sheets, whatever the copper of the winding leaves of its volts."""
    file = tmp_path / "it.reference.buzz"
    file.write_text(HEATERS.format(dcr=dcr, rectifier=rectifier), encoding="utf-8")
    got = find(audit(read(file)), "T1 heaters", "current")
    assert got.value == pytest.approx(amps, rel=0.02)
    assert got.verdict == verdict
    assert "V2 0.3 A" in got.margin
    assert "PL1 0.3 A" in got.margin
