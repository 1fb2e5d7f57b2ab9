"""A restorer's own devices: found before the shipped ones, checked in the same way."""

import re
from pathlib import Path

import pytest

from buzzout.catalogue import designations, device, device_names, difference
from buzzout.catalogue.card import card
from buzzout.catalogue.own import FILE_NAME, NotADeviceFile, own_devices, own_files, with_own

OWN = """\
EC900:
  kind: triode
  also:
    - {names: ["6ZZ9"], source: printed on the carton}
  base: B7G
  sections: {"1": triode}
  pins: {"1": anode, "2": unused, "3": heater, "4": heater, "5": internal, "6": grid, "7": cathode,
         source: measured on two samples}
  heaters:
    - {volts: 6.3, amps: 0.15, between: "3", and: "4", source: carton}
"""


@pytest.fixture
def own(tmp_path):
    path = tmp_path / FILE_NAME
    path.write_text(OWN, encoding="utf-8")
    return path


def test_an_own_device_is_found_by_all_its_names(own):
    assert device("EC900") is None
    found = device("6zz9", [own])
    assert found.name == "EC900"
    assert found.heater_pins(6.3) == (("3",), ("4",))


def test_an_own_device_stands_before_a_shipped_one(tmp_path):
    path = tmp_path / FILE_NAME
    path.write_text(OWN.replace("EC900", "EF80"), encoding="utf-8")
    assert device("EF80", [path]).kind == "triode"
    assert device("EF80").kind == "pentode"


def test_own_devices_take_part_in_differences_and_cards(own):
    assert not difference("6C4", "EC900", [own]).unknown
    text, known = card("EC900", [own])
    assert known
    assert "measured on two samples" in text


def test_own_files_can_be_put_in_force_for_all_that_is_done_inside(own):
    with with_own([own]):
        assert device("6ZZ9").name == "EC900"
        assert "EC900" in device_names()
        assert "6ZZ9" in designations()
        assert not difference("6C4", "6ZZ9").unknown
        assert card("EC900")[1]
        assert "Did you mean EC900" in card("EC9000")[0]
    assert device("6ZZ9") is None
    assert "EC900" not in device_names()


def test_the_innermost_own_file_stands_first(own, tmp_path):
    inner = tmp_path / "inner.yaml"
    inner.write_text(OWN.replace("carton", "box"), encoding="utf-8")
    with with_own([own]), with_own([inner]):
        assert device("EC900").heaters[0].sources == ("box",)
    with with_own([inner]), with_own([own]):
        assert device("EC900").heaters[0].sources == ("carton",)


def test_a_broken_file_is_never_put_in_force(tmp_path):
    path = tmp_path / FILE_NAME
    path.write_text(OWN.replace("B7G", "B7"), encoding="utf-8")
    with pytest.raises(NotADeviceFile, match="there is no base 'B7'"), with_own([path]):
        raise AssertionError
    assert device("EC900") is None


def test_a_broken_file_says_everything_that_is_wrong_with_it(tmp_path):
    path = tmp_path / FILE_NAME
    path.write_text(OWN.replace("B7G", "B7").replace("volts: 6.3", "volts: six"), encoding="utf-8")
    with pytest.raises(NotADeviceFile) as caught:
        own_devices(path)
    lines = str(caught.value).splitlines()
    assert len(lines) == len(caught.value.faults) == 2
    assert lines[0].startswith(f"{path}:5: EC900.base: there is no base 'B7'")
    assert lines[1].endswith("'six' is no number (the unit stands in the name)")


def test_files_are_looked_for_beside_the_circuit_and_then_in_the_users_folder(
    tmp_path, monkeypatch
):
    home, job = tmp_path / "home", tmp_path / "job"
    for folder in (home, job):
        folder.mkdir()
        (folder / FILE_NAME).write_text(OWN, encoding="utf-8")
    monkeypatch.setattr("platformdirs.user_config_path", lambda _: home)
    circuit = job / "set.reference.buzz"
    assert own_files(circuit) == (job / FILE_NAME, home / FILE_NAME)
    assert own_files(job) == own_files(circuit)
    (job / FILE_NAME).unlink()
    assert own_files(circuit) == (home / FILE_NAME,)


def test_the_example_of_the_guide_is_in_order(tmp_path):
    guide = Path(__file__).parents[2] / "docs" / "catalogue.md"
    examples = re.findall(r"```yaml\n(.*?)```", guide.read_text(encoding="utf-8"), re.DOTALL)
    assert examples
    for number, text in enumerate(examples):
        path = tmp_path / f"{number}.yaml"
        path.write_text(text, encoding="utf-8")
        assert own_devices(path)
