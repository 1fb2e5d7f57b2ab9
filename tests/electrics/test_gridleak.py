"""The grid circuit of an output valve: how many ohms it has, and what the sheet allows it."""

import math
from dataclasses import replace

import pytest

from buzzout.electrics.gridleak import grid_circuits
from buzzout.electrics.network import network
from buzzout.electrics.ratings import audit
from buzzout.electrics.stress import FINE, NEAR, OVER
from buzzout.language import load

SET = """\
reference "one output valve"
mains 230 V 50 Hz
transformer T1
winding T1 primary 0 230 0-230V dcr 20R
winding T1 ht red1 red/yellow red2 250-0-250V 60mA dcr 130R+134R
winding T1 bias grey1 grey2 50V 50mA dcr 40R
wire T1.grey2 chassis
node BIAS
socket V1 octal EL34
wire V1.1 V1.8
C1 electrolytic 50u 100V chassis + BIAS -
D1 diode 1N4007 T1.grey1 k BIAS a
"""
CATHODE, METERED = "R2 resistor 470R V1.8 chassis", "R2 resistor 10R V1.8 chassis"
CENTRE, LIFTED = "wire T1.red/yellow chassis", "R9 resistor 100R 5W T1.red/yellow chassis"

CASES = {
    "self bias": ([CATHODE, CENTRE, "R1 resistor 470k V1.5 chassis"], 470e3, 700e3, FINE),
    "self bias, just over": ([CATHODE, CENTRE, "R1 resistor 720k V1.5 chassis"], 720e3, 7e5, NEAR),
    "self bias, too many": ([CATHODE, CENTRE, "R1 resistor 1M V1.5 chassis"], 1e6, 700e3, OVER),
    "fixed bias, the resistor behind stopper and leak counts": (
        [METERED, CENTRE, "node G", "R4 resistor 5k6 V1.5 G", "R1 resistor 220k G FED",
         "node FED", "R5 resistor 10M FED BIAS", "R6 resistor 22k BIAS chassis"],
        10e6 + 225.6e3, 500e3, OVER,
    ),
    "fixed bias, nothing but the rectifier leads to the chassis": (
        [METERED, CENTRE, "R1 resistor 220k V1.5 BIAS"], 220040.0, 500e3, FINE,
    ),
    "what is fit for self bias is too much for fixed bias": (
        [METERED, CENTRE, "R1 resistor 680k V1.5 BIAS", "R6 resistor 22k BIAS chassis"],
        680e3, 500e3, OVER,
    ),
    "bias from the return of the HT is the valve's own": (
        ["wire V1.8 chassis", LIFTED, "R1 resistor 680k V1.5 T1.red/yellow"],
        680e3, 700e3, NEAR,
    ),
}  # fmt: skip


@pytest.fixture
def board(tmp_path):
    def _board(lines):
        path = tmp_path / "it.buzz"
        path.write_text(SET + "\n".join(lines) + "\n", encoding="utf-8")
        return load(path).sound().circuit

    return _board


@pytest.mark.parametrize(("lines", "ohms", "limit", "verdict"), CASES.values(), ids=CASES)
def test_ohms_against_the_limit_of_the_type_and_its_bias(board, lines, ohms, limit, verdict):
    circuit = board(lines)
    (got,) = grid_circuits(network(circuit))
    assert got.ohms == pytest.approx(ohms, rel=2e-3)
    assert got.limit == limit
    assert got.over == (verdict == OVER)
    (told,) = (s for s in audit(circuit) if s.what == "grid circuit")
    assert (told.part, told.verdict) == ("V1", verdict)


def test_a_grid_without_a_way_has_infinitely_many_and_is_not_told_as_over(board):
    (got,) = grid_circuits(network(board([METERED, CENTRE])))
    assert math.isinf(got.ohms)
    assert not got.over


@pytest.mark.parametrize("type_", ["ECC83", "KT88", "unheard"])
def test_a_type_whose_sheet_says_nothing_is_not_judged(board, type_):
    circuit = board([METERED, CENTRE, "R1 resistor 10M V1.5 BIAS"])
    changed = circuit.but(parts={**circuit.parts, "V1": replace(circuit.parts["V1"], type=type_)})
    assert not list(grid_circuits(network(changed)))
