"""Growing modes without a tone, and where a computed gain means nothing for one that grows."""

import math
from pathlib import Path

import pytest
from boards import point

from buzzout.circuit import Rewire, apply
from buzzout.electrics.loops import cut
from buzzout.electrics.operating import operate
from buzzout.electrics.signal import Drive, signals
from buzzout.electrics.stability import stability
from buzzout.electrics.unsteady import unsteady
from buzzout.language.load import read

HALL = Path(__file__).parents[2] / "examples/hall-amplifier/hall-amplifier.reference.buzz"
TURNED = Rewire("T2", (("blue", "brown"), ("brown", "blue")))


@pytest.fixture(scope="module")
def hall():
    return operate(read(HALL))


@pytest.fixture(scope="module")
def turned(hall):
    """The output transformer turned round: the feedback is positive."""
    return operate(apply(hall.net.circuit, [TURNED]))


def test_every_mode_has_a_loop_gain_of_one_at_its_complex_frequency(hall, turned):
    """Found by determinants, checked by the loop opened at the feedback and at the oscillator."""
    modes = stability(turned).growing
    assert [m.drifts for m in modes] == [True, True, False]
    for mode, lead in zip(modes, ("V2.8", "V2.8", "V3.7"), strict=True):
        loop = cut(turned, point(lead))
        assert loop.at(mode.s / (2j * math.pi)).gain == pytest.approx(1.0, abs=0.01)
    assert all(m.rate > 0 for m in modes)
    assert not any(m.drifts for m in stability(hall).growing)


@pytest.mark.parametrize("hertz", [20.0, 1000.0, 10_000.0])
def test_a_gain_stands_up_to_the_loop_that_oscillates(turned, hertz):
    _, none = unsteady(signals(turned, Drive(point("J1.tip")), hertz))
    assert {point(p) for p in ("V2.6", "V2.8", "V2.1", "V4.2", "V5.2", "V4.7", "T2.green")} <= none
    assert not none & {point(p) for p in ("J1.tip", "V1.7", "V1.6", "V1.2", "V1.1")}


def test_a_tone_generator_beside_leaves_the_amplifier_its_gain(hall):
    told, none = unsteady(signals(hall, Drive(point("J1.tip")), 1000.0))
    assert told.modes == 1
    assert {p.owner for p in none if p.owner.startswith("V")} == {"V3"}
    assert point("T2.green") not in none


def test_a_source_that_holds_the_loop_still_leaves_every_gain(hall):
    """A generator of no ohms on the oscillator's grid: nothing grows."""
    told, none = unsteady(signals(hall, Drive(point("V3.7")), 150.0))
    assert (told.modes, none) == (0, frozenset())
    behind = unsteady(signals(hall, Drive(point("V3.7"), ohms=1e9), 150.0))
    assert behind[0].modes == 1
    assert point("V3.3") in behind[1]
