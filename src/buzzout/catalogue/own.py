"""A restorer's own devices: `devices.yaml` beside the circuit or in the configuration folder."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from buzzout.catalogue.build import build
from buzzout.catalogue.names import plain
from buzzout.catalogue.reading import Fault, read_sheet
from buzzout.catalogue.records import Device

FILE_NAME = "devices.yaml"


class NotADeviceFile(ValueError):
    """A file of devices is not in order. `faults` has every fault of it."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        """The message is every fault on a line of its own."""
        super().__init__("\n".join(map(str, faults)))
        self.faults = faults


@cache
def own_devices(path: Path) -> dict[str, Device]:
    """Every name in a restorer's own file, plain, with its device.

    Raises
    ------
    NotADeviceFile
        If the file is not in order.
    OSError
        If it cannot be read.
    """
    sheet = read_sheet(path.read_text(encoding="utf-8"), str(path))
    if sheet.faults:
        raise NotADeviceFile(tuple(sheet.faults))
    found: dict[str, Device] = {}
    for name, data in sheet.data.items():
        built = build(name, data)
        found |= {plain(each): built for each in built.designations}
    return found
