"""What can trade places without changing the circuit."""

import pytest

from buzzout.catalogue import device, device_names


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("ECC83", {"sections exchanged": "1-6 2-7 3-8", "heater ends turned round": "4-5"}),
        ("6SN7GT", {"sections exchanged": "1-4 2-5 3-6", "heater ends turned round": "7-8"}),
        ("6J6", {"sections exchanged": "1-2 5-6", "heater ends turned round": "3-4"}),
        ("EL84", {"heater ends turned round": "4-5"}),
        ("6X4", {"anodes exchanged": "1-6", "heater ends turned round": "3-4"}),
        ("5Y3GT", {"anodes exchanged": "4-6", "filament ends turned round": "2-8"}),
        ("GZ34", {"anodes exchanged": "4-6"}),  # the cathode is on one end of the heater
        ("6AV6", {"anodes exchanged": "5-6", "heater ends turned round": "3-4"}),
        ("6AL5", {"sections exchanged": "1-5 2-7", "heater ends turned round": "3-4"}),
        ("EABC80", {"heater ends turned round": "4-5"}),  # its diodes are not alike
        ("EM34", {"heater ends turned round": "2-7"}),  # its systems are not alike
        ("35W4", {}),  # the tap is not in the middle
        ("DL92", {"filament ends turned round": "1-7"}),
        ("DF91", {}),
        ("ECL82", {"heater ends turned round": "4-5"}),
        ("0A2", {}),
        ("1N4007", {}),
    ],
)
def test_exchanges(name, told):
    found = {
        each.name: " ".join(f"{a}-{b}" for a, b in sorted(each.pins.items()) if a < b)
        for each in device(name).exchanges()
    }
    assert found == told


@pytest.mark.parametrize("name", device_names())
def test_an_exchange_undoes_itself_and_keeps_what_a_pin_does(name):
    found = device(name)
    touched: set[str] = set()
    for each in found.exchanges():
        assert not touched & set(each.pins)
        touched |= set(each.pins)
        for pin, other in each.pins.items():
            assert each.pins[other] == pin != other
            assert found.pins[pin].roles == found.pins[other].roles
