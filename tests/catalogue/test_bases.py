"""Bases: names, numbering, mirror and shift."""

import pytest

from buzzout.catalogue import base, base_names


@pytest.mark.parametrize(
    ("asked", "name"),
    [
        ("B9A", "B9A"),
        ("noval", "B9A"),
        ("Noval", "B9A"),
        ("9a", "B9A"),
        ("b7g", "B7G"),
        ("OCTAL", "octal"),
        ("K8A", "octal"),
        ("rimlock", "B8A"),
        ("loctal", "B8G"),
        ("magnoval", "B9D"),
        ("ux 4", "UX4"),
    ],
)
def test_a_base_answers_to_its_names(asked, name):
    found = base(asked)
    assert found is not None
    assert found.name == name


def test_an_unknown_base_is_none():
    assert base("B10Z") is None


@pytest.mark.parametrize("name", base_names())
def test_pins_run_from_1_and_once_round_from_the_mark(name):
    found = base(name)
    assert found.pins == tuple(str(i) for i in range(1, found.number + 1))
    angles = [found.angles[pin] for pin in found.pins]
    assert angles == sorted(angles)
    assert 0 < angles[0] < angles[-1] < 360
    # the mark sits in the middle between the last pin and the first
    assert angles[0] == pytest.approx(360 - angles[-1], abs=0.01)


@pytest.mark.parametrize("name", base_names())
def test_counting_from_above_twice_is_no_mistake(name):
    mirrored = base(name).mirrored()
    assert {pin: mirrored[mirrored[pin]] for pin in mirrored} == {pin: pin for pin in mirrored}


@pytest.mark.parametrize("name", base_names())
def test_shifting_once_round_is_no_shift(name):
    found = base(name)
    same = {pin: pin for pin in found.pins}
    assert found.shifted(0) == same
    assert found.shifted(found.number) == same
    back = found.shifted(-1)
    assert {pin: back[other] for pin, other in found.shifted(1).items()} == same


def test_octal_counted_from_above():
    octal = base("octal").mirrored()
    assert (octal["1"], octal["2"], octal["3"], octal["4"]) == ("8", "7", "6", "5")


def test_noval_counted_one_too_far():
    assert base("B9A").shifted(1)["9"] == "1"


def test_a_gap_is_wider_than_a_step_and_a_key_is_not():
    noval, octal = base("B9A").angles, base("octal").angles
    assert 360 - noval["9"] + noval["1"] == pytest.approx(2 * (noval["2"] - noval["1"]))
    assert 360 - octal["8"] + octal["1"] == pytest.approx(octal["2"] - octal["1"])
