"""A fitted type against the wanted one."""

import pytest

from buzzout.catalogue import difference


@pytest.mark.parametrize(
    ("wanted", "fitted"),
    [("ECC83", "12AX7"), ("12ax7", "ECC83"), ("6AU6", "EF94"), ("EZ90", "6X4"), ("XY12", "xy-12")],
)
def test_another_name_of_the_same_thing(wanted, fitted):
    found = difference(wanted, fitted)
    assert (found.same, found.unknown, found.reasons) == (True, False, ())


@pytest.mark.parametrize(
    ("wanted", "fitted", "reason"),
    [
        ("6L6GC", "5881", "anode limit 400 V instead of 500 V"),
        ("6L6GC", "5881", "anode dissipation limit 23 W instead of 30 W"),
        ("EL84", "EL34", "base octal instead of B9A"),
        ("EL84", "EL34", "heater 1.5 A instead of 0.76 A at 6.3 V"),
        ("6BA6", "12BA6", "heater 12.6 V 0.15 A instead of 6.3 V 0.3 A"),
        ("6L6GC", "EL34", "pins differ: 1 is suppressor instead of unused"),
        ("ECC83", "ECC85", "heater 0.435 A instead of 0.3 A at 6.3 V"),
        ("ECC83", "ECC85", "pins differ: 9 is shield instead of heater-tap"),
        ("6K7", "6SK7", "top cap: none instead of grid"),
        ("12AX7", "12AU7", "amplification factor 17 instead of 100"),
        ("12AX7", "12AU7", "slope 2.2 mA/V instead of 1.6 mA/V"),
        ("EBF89", "EBF80", "pentode anode dissipation limit 1.5 W instead of 2.25 W"),
        ("GZ34", "5Y3GT", "output current 125 mA instead of 250 mA"),
    ],
)
def test_what_differs(wanted, fitted, reason):
    found = difference(wanted, fitted)
    assert not found.same
    assert not found.unknown
    assert any(reason in each for each in found.reasons), found.reasons


def test_a_stronger_valve_is_not_called_weaker():
    assert difference("5881", "6L6GC").reasons == ("higher limits",)


def test_figures_that_are_alike_are_not_told():
    """6AQ5 and 6V6 are the same system: only the base and what hangs on it differ."""
    told = " ".join(difference("6V6GT", "6AQ5").reasons)
    assert "base B7G instead of octal" in told
    assert "slope" not in told
    assert "heater 0" not in told


def test_a_type_that_nobody_knows_is_not_judged():
    found = difference("EL84", "ZZ99")
    assert (found.same, found.unknown) == (False, True)
    assert found.reasons == ("ZZ99 is not in the catalogue",)


def test_a_near_relative_is_told_even_without_an_entry():
    found = difference("EL84", "7189")
    assert found.unknown
    assert "7189 is a near relative of EL84: higher anode and screen limits" in found.reasons
