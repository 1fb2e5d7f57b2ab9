"""The chassis file of a new job: what it proposes to write can be written."""

import re

import pytest

from buzzout.bench.blank import chassis
from buzzout.language import load


@pytest.mark.parametrize(
    ("switch", "told"),
    [
        ("on-off", "on-off set on, or set off"),
        ("2 poles on-off", "2 poles on-off set on, or set off"),
        ("1 pole 3 ways", "1 pole 3 ways set 1, set 2 or set 3"),
        ("2 poles 2 ways set 1", "2 poles 2 ways set 1 or set 2"),
    ],
)
def test_the_positions_of_a_switch_are_offered(tmp_path, switch, told):
    path = tmp_path / "x.reference.buzz"
    path.write_text(f'reference "x"\nswitch S1 {switch}\nconnector X1 2 pins\nwire X1.1 S1.a\n')
    text = chassis(load(path).sound().circuit, path.name)
    assert f"# -- S1, switch: as you find it, with its position: {told}\n" in text
    form = told.partition(" set")[0]
    for position in re.findall(r"set \w+", told):
        found = tmp_path / "x.found.buzz"
        found.write_text(text.replace("# switch S1\n", f"switch S1 {form} {position}\n"))
        loaded = load(found).sound()
        assert loaded.circuit.parts["S1"].setting == position.removeprefix("set ")


def test_the_chassis_and_its_bolts_have_a_heading(tmp_path):
    path = tmp_path / "x.reference.buzz"
    path.write_text('reference "x"\nbond PE1\nR1 resistor 1k PE1 chassis\n')
    rows = chassis(load(path).sound().circuit, path.name).splitlines()
    assert {"# at chassis", "# at PE1"} <= set(rows)
