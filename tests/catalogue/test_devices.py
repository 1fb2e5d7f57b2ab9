"""The shipped devices: every file in order, every name found, nothing said twice."""

import subprocess
import sys

import pytest

from buzzout.catalogue import base, designations, device, device_names, plain
from buzzout.catalogue.check import faults
from buzzout.catalogue.reading import read_sheet
from buzzout.catalogue.records import COMMON, ROLES
from buzzout.catalogue.shelf import cut, device_files
from buzzout.catalogue.sources import sources


@pytest.mark.parametrize("path", device_files(), ids=lambda path: path.stem)
def test_every_shipped_file_is_in_order(path):
    sheet = read_sheet(path.read_text(encoding="utf-8"), path.name)
    assert faults(sheet, sources()) == ()


def test_the_files_are_cut_into_all_their_entries():
    for path in device_files():
        text = path.read_text(encoding="utf-8")
        assert [name for name, _ in cut(text)] == list(read_sheet(text, path.name).data)


def test_no_name_belongs_to_two_devices():
    owners = {}
    for name in device_names():
        for each in device(name).designations:
            assert owners.setdefault(plain(each), name) == name, each


@pytest.mark.parametrize("name", device_names())
def test_every_designation_leads_to_its_device(name):
    found = device(name)
    assert found.name == name
    for each in found.designations:
        assert device(each) is found
        assert device(each.lower()) is found


@pytest.mark.parametrize("name", device_names())
def test_a_device_hangs_together(name):
    found = device(name)
    known = base(found.base)
    assert (found.base == "leads") == (known is None)
    if known:
        assert set(found.pins) == set(known.pins)
    for electrode in found.pins.values():
        assert set(electrode.roles) <= set(ROLES)
        assert (electrode.role in COMMON) <= (electrode.section == 0)
    for section in found.sections:
        assert section.pins, section
        assert set(section.pins.values()) <= {*found.pins, "cap"}
    for heater in found.heaters:
        assert found.heater_pins(heater.volts) == (heater.one, heater.other)
    assert not found.unused & found.forbidden


def test_there_are_more_than_sixty_types():
    assert len([n for n in device_names() if device(n).base != "leads"]) >= 60
    assert len(designations()) > len(device_names())


@pytest.mark.parametrize(
    ("name", "volts", "ends"),
    [
        ("ECC83", 6.3, (("4", "5"), ("9",))),
        ("ECC83", 12.6, (("4",), ("5",))),
        ("EL84", 6.3, (("4",), ("5",))),
        ("5Y3GT", 5.0, (("2",), ("8",))),
        ("GZ34", 5.0, (("2",), ("8",))),
        ("EL84", 12.6, ((), ())),
        ("0A2", 6.3, ((), ())),
    ],
)
def test_heater_ends(name, volts, ends):
    assert device(name).heater_pins(volts) == ends


@pytest.mark.parametrize(
    ("name", "joined"),
    [
        ("6AQ5", {frozenset({"1", "7"})}),
        ("50C5", {frozenset({"2", "5"})}),
        ("0A2", {frozenset({"1", "5"}), frozenset({"2", "4", "7"})}),
        ("DF91", {frozenset({"1", "5"})}),
        ("EF80", {frozenset({"1", "3"})}),
        ("0D3", {frozenset({"3", "7"})}),
        ("ECC83", set()),
    ],
)
def test_pins_joined_inside(name, joined):
    assert set(device(name).internal) == joined


def test_pins_to_leave_free_are_no_free_pins():
    el84 = device("EL84")
    assert el84.forbidden == {"1", "6", "8"}
    assert el84.unused == frozenset()
    assert device("6X4").unused == {"2", "5"}


def test_a_directly_heated_rectifier_emits_from_its_filament():
    assert dict(device("5Y3").sections[0].pins) == {"anode": "6", "cathode": "8"}


def test_a_mixed_valve_keeps_its_own_grid():
    triode, hexode = device("ECH42").sections
    assert (triode.pins["grid"], hexode.pins["grid"]) == ("4", "6")
    assert hexode.pins["mixer-grid"] == "4"


def test_the_top_cap_is_an_electrode_and_no_pin():
    found = device("EF39")
    assert found.cap.role == "grid"
    assert "cap" not in found.pins
    assert found.sections[0].pins["grid"] == "cap"


def test_importing_reads_nothing():
    code = "import buzzout.catalogue.shelf, sys; print('yaml' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "False"


def test_an_unknown_name_is_no_device():
    assert device("ZZ99") is None
    assert device("") is None


@pytest.mark.parametrize(
    ("name", "grids"),
    [
        ("EL84", ["2"]), ("6V6GT", ["5"]), ("2A3", ["3"]), ("ECL82", ["3"]), ("ECL86", ["8"]),
        ("EBL31", ["cap"]), ("ECC83", []), ("EF86", []), ("6AQ5", ["1", "7"]),
    ],
)  # fmt: skip
def test_the_grids_that_drive_an_output(name, grids):
    """Of a triode with an output pentode the pentode's alone; an EBL31 has it on the cap."""
    pins = device(name).output_pins.items()
    assert [pin for pin, electrode in pins if electrode.role == "grid"] == grids
