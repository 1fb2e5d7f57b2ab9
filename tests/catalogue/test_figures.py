"""Figures that must fit each other, whoever printed them: slips of pen and unit show here."""

from __future__ import annotations

import pytest

from buzzout.catalogue import device, device_names

# Zero bias: the maker prints the point for the curve, not for service.
FOR_THE_CURVE = {("ECH81", "triode")}


def points(*keys):
    """Every typical point that has all of these figures."""
    return [
        pytest.param(name, point, id=f"{name}-{place}")
        for name in device_names()
        for place, point in enumerate(device(name).points)
        if all(point.get(key) is not None for key in keys)
    ]


def limited():
    """Points of a system whose dissipation is known."""
    return [
        each
        for each in points("anode_v", "anode_ma")
        if device(each.values[0]).limit("anode_w", each.values[1].of)
        and (each.values[0], each.values[1].of) not in FOR_THE_CURVE
    ]


def rectifiers():
    found = [device(name) for name in device_names()]
    return [
        each.name
        for each in found
        if each.base != "leads" and each.limit("peak_inverse_v") and each.limit("anode_rms_v")
    ]


@pytest.mark.parametrize(("name", "point"), points("mu", "slope_ma_per_v", "internal_kohm"))
def test_amplification_is_slope_times_internal_resistance(name, point):
    """mu = S ri (Barkhausen), within the rounding of printed figures."""
    product = point.get("slope_ma_per_v") * point.get("internal_kohm")
    assert product == pytest.approx(point.get("mu"), rel=0.18), name


@pytest.mark.parametrize(("name", "point"), limited())
def test_no_typical_point_exceeds_the_dissipation(name, point):
    watts = point.get("anode_v") * point.get("anode_ma") / 1000
    assert watts <= 1.12 * device(name).limit("anode_w", point.of)


@pytest.mark.parametrize(("name", "point"), points("grid_v"))
def test_grids_are_negative(name, point):
    assert point.get("grid_v") <= 0, name


@pytest.mark.parametrize(("name", "point"), points("slope_ma_per_v", "anode_ma"))
def test_slope_suits_the_current(name, point):
    """From big triodes, 40 uA/V for each mA, to pentodes for low currents."""
    assert 0.035 < point.get("slope_ma_per_v") / point.get("anode_ma") < 2.6, name


@pytest.mark.parametrize("name", [n for n in device_names() if len(device(n).heaters) > 1])
def test_every_way_to_feed_a_heater_takes_the_same_power(name):
    """A tapped heater halves the voltage and doubles the current."""
    power = [each.volts * each.amps for each in device(name).heaters]
    assert max(power) == pytest.approx(min(power), rel=0.02)


@pytest.mark.parametrize("name", rectifiers())
def test_a_rectifier_stands_twice_the_peak_that_it_is_fed_with(name):
    """With a capacitor behind it: 2 sqrt 2 times the r.m.s. voltage, less regulation."""
    found = device(name)
    assert found.limit("peak_inverse_v") > 2.2 * found.limit("anode_rms_v")
