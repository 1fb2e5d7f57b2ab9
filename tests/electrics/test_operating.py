import math
from pathlib import Path

import numpy as np
import pytest
from boards import Board, point
from wild import spoiled

from buzzout.circuit import CHASSIS
from buzzout.electrics.conditions import Conditions
from buzzout.electrics.draft import COLD, STARTING, Power, Supply
from buzzout.electrics.loops import with_values
from buzzout.electrics.mains import Lamp, lamp_ohms
from buzzout.electrics.operating import operate
from buzzout.electrics.system import voltage
from buzzout.language.load import read

AMP = Path(__file__).parent / "cases" / "small_amp.buzz"


@pytest.fixture(scope="module")
def amp():
    return read(AMP)


@pytest.fixture(scope="module")
def running(amp):
    return operate(amp)


def test_the_amplifier_settles(running):
    assert running.settled
    assert running.volts(point("HT1")) == pytest.approx(305, abs=15)
    assert 9 < running.volts(point("K")) < 12  # two EL84s on 130 ohm: 10.4 V in the sheet


def test_currents_balance_at_every_node(running):
    """Kirchhoff, counted outside the solver: branch by branch from the voltages."""
    system, x = running.system, running.solution.x
    total = np.zeros(system.nodes)
    for branch in running.net.resistive:
        a, b = (running.rows[n] for n in running.net.ends(branch))
        amps = (voltage(x, a) - voltage(x, b)) / max(branch.value, 1e-3)
        for row, sign in ((a, 1), (b, -1)):
            if row >= 0:
                total[row] += sign * amps
    for valve in system.valves:
        flow = running.flow(valve.name)
        ends = zip((valve.grid, valve.screen, valve.anode), flow[:3], strict=True)
        for row, amps in (*ends, (valve.cathode, -flow.cathode)):
            if row >= 0:
                total[row] += amps
    for path, pulse in zip(system.paths, running.pulses, strict=True):
        for row, sign in ((path.a, 1), (path.k, -1)):
            if row >= 0:
                total[row] += sign * pulse.mean
    assert np.max(np.abs(total)) < 2e-6  # the valves' insulation of 1 Gohm is not counted here


def test_power_from_the_mains_covers_what_is_used(running):
    heaters = 6.3 * (1 + 0.3 + 0.3 + 2 * 0.76)
    direct = running.volts(point("HT1")) * sum(p.mean for p in running.pulses)
    assert 230 * running.line_amps > heaters + direct


def test_before_the_heaters_are_warm_ht_goes_to_the_peak(amp):
    surge = operate(amp, Power(heat=STARTING))
    assert surge.settled
    assert surge.volts(point("HT1")) == pytest.approx(270 * math.sqrt(2), rel=0.02)
    assert surge.volts(point("V2.1")) == pytest.approx(surge.volts(point("HT1")), rel=1e-3)


def test_cold_indirectly_heated_rectifier_gives_nothing(amp):
    cold = operate(amp, Power(heat=COLD))
    assert cold.settled
    assert math.isnan(cold.volts(point("HT1")))
    assert point("HT1") in cold.floating


@pytest.mark.parametrize("watts", [25, 60, 100])
def test_limiter_lamp_obeys_its_own_law(amp, watts):
    lamp = Lamp(watts, 230)
    got = operate(amp, Power(limiter=lamp))
    assert got.settled
    ohms = got.lamp_volts / got.line_amps
    assert ohms == pytest.approx(lamp_ohms(lamp, got.lamp_volts), rel=1e-3)


def test_a_short_makes_the_lamp_bright(amp):
    from buzzout.circuit import Join, apply

    shorted = apply(amp, [Join(point("HT1"), CHASSIS)])
    lamp = Lamp(60, 230)
    bright = operate(shorted, Power(limiter=lamp))
    dim = operate(amp, Power(limiter=lamp))
    assert bright.lamp_volts > 0.8 * 230
    assert dim.lamp_volts < 0.45 * 230


def test_given_supply_and_floating_points_are_named():
    board = Board().valve("V1", "ECC83", p1="A", p2="chassis", p3="K")
    board.r("R1", "100k", "HT", "A").r("R2", "1k5", "K", "chassis").r("R3", "1k", "X", "Y")
    got = operate(board.circuit(), Power(supplies=(Supply(point("HT"), CHASSIS, 250.0),)))
    assert got.settled
    assert got.volts(point("A")) == pytest.approx(250 - 1e5 * got.flow("V1/2").anode, abs=0.1)
    assert {"X", "Y"} <= {str(p) for p in got.floating}
    assert math.isnan(got.volts(point("X")))


def test_open_cathode_rises_until_the_valve_is_cut_off():
    board = Board().valve("V1", "ECC83", p1="HT", p2="chassis", p3="K")
    got = operate(board.circuit(), Power(supplies=(Supply(point("HT"), CHASSIS, 250.0),)))
    assert got.settled
    assert 1 < got.volts(point("K")) < 12


def test_gas_stabiliser_holds_its_voltage():
    board = Board().valve("V1", "0A2", pins=7, p1="OUT", p2="chassis").r("R1", "5k", "IN", "OUT")
    got = operate(board.circuit(), Power(supplies=(Supply(point("IN"), CHASSIS, 250.0),)))
    assert got.volts(point("OUT")) == pytest.approx(151, abs=3)


def test_no_mains_anywhere_is_said():
    got = operate(Board().r("R1", "1k", "A", "chassis").circuit())
    assert got.settled
    assert any("nothing is fed" in remark for remark in got.remarks)


def test_empty_circuit():
    assert operate(Board().circuit()).settled


@pytest.mark.parametrize("seed", range(40))
def test_wild_boards_settle_or_say_what_does_not(amp, seed):
    got = operate(spoiled(amp, seed))
    assert got.settled or got.unsettled
    assert np.all(np.isfinite(got.solution.x))


def test_switch_off_feeds_nothing(amp):
    off = operate(amp, conditions=Conditions(contacts={"S1": False}))
    assert abs(off.volts(point("HT1"))) < 1.0


def test_rectifier_out_feeds_nothing_and_output_valves_out_lift_the_ht(amp, running):
    none = operate(amp, conditions=Conditions(empty=frozenset({"V1"})))
    assert abs(none.volts(point("HT1"))) < 0.01
    light = operate(amp, conditions=Conditions(empty=frozenset({"V4", "V5"})))
    assert light.volts(point("HT1")) > running.volts(point("HT1")) + 30


def test_weak_valve_draws_less(amp, running):
    weak = operate(amp, Power(emission={"V4": 0.6}))
    assert weak.flow("V4").anode < 0.75 * running.flow("V4").anode
    assert weak.flow("V5").anode > running.flow("V5").anode  # they share a cathode resistor


def test_a_single_rectifier_into_a_choke_is_said_to_be_beyond_the_model():
    board = Board(mains=("230V", "50Hz")).winding_part(
        "T1", "transformer",
        [("primary", "0 230", (0, 230), (1.0,)), ("ht", "a b", (250, 0), (60,))], b="chassis",
    )  # fmt: skip
    board.part("D1", "diode", None, "T1.a", "IN").part("L1", "choke", "10H", "IN", "HT")
    board.e("C1", "16u", "HT", "chassis").r("RL", "10k", "HT", "chassis")
    got = operate(board.circuit())
    assert got.settled
    assert any("a single path into a choke" in remark for remark in got.remarks)


def test_a_state_begun_near_another_is_the_one_begun_from_nothing(amp, running):
    """Hotter output valves: reservoirs, rectifiers and valves begin where the first one stood."""
    loaded = with_values(amp, {"R10": 65.0})
    alone, beside = operate(loaded), operate(loaded, near=running)
    assert alone.reservoirs[0].ripple > 1.2 * running.reservoirs[0].ripple
    assert alone.settled
    assert beside.settled
    assert beside.solution.x == pytest.approx(alone.solution.x, rel=1e-3, abs=1e-4)
    assert any(held.farads and held.lift for held in beside.reservoirs)
    for one, other in zip(alone.reservoirs, beside.reservoirs, strict=True):
        assert other.ripple == pytest.approx(one.ripple, rel=1e-3)
        assert other.lift == pytest.approx(one.lift, rel=1e-3)
