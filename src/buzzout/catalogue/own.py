"""A restorer's own devices: `devices.yaml` beside the circuit or in the configuration folder."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path

from buzzout.catalogue.build import build
from buzzout.catalogue.names import plain
from buzzout.catalogue.reading import Fault, read_sheet
from buzzout.catalogue.records import Device
from buzzout.catalogue.shelf import IN_USE

FILE_NAME = "devices.yaml"


class NotADeviceFile(ValueError):
    """A file of devices is not in order. `faults` has every fault of it."""

    def __init__(self, found: tuple[Fault, ...]) -> None:
        """The message is every fault on a line of its own."""
        super().__init__("\n".join(map(str, found)))
        self.faults = found


def own_files(beside: Path) -> tuple[Path, ...]:
    """Files of a restorer's own devices that are there: beside a circuit first, then everybody's.

    `beside` is a circuit file or its folder.
    """
    from platformdirs import user_config_path  # noqa: PLC0415 - only wanted here

    folder = beside if beside.is_dir() else beside.parent
    places = (folder / FILE_NAME, user_config_path("buzzout") / FILE_NAME)
    return tuple(path for path in places if path.is_file())


@cache
def own_devices(path: Path) -> dict[str, Device]:
    """Every name in a restorer's own file, plain, with its device.

    Raises
    ------
    NotADeviceFile
        If the file is not in order.
    OSError, UnicodeDecodeError
        If it cannot be read.
    """
    from buzzout.catalogue.check import faults  # noqa: PLC0415 - brings the schema along

    sheet = read_sheet(path.read_text(encoding="utf-8"), str(path))
    if found := faults(sheet):
        raise NotADeviceFile(found)
    devices: dict[str, Device] = {}
    for name, data in sheet.data.items():
        if name != "sources":
            built = build(name, data)
            devices |= {plain(each): built for each in built.designations}
    return devices


@contextmanager
def with_own(paths: Sequence[Path]) -> Iterator[None]:
    """Puts a restorer's own files before the shipped ones for all that is done inside.

    `device`, `difference`, `device_names` and cards then know the types in them without being told
    the files.

    Raises
    ------
    NotADeviceFile
        At once, if one of the files is not in order; the message lists every fault with its line.
    OSError, UnicodeDecodeError
        If one cannot be read.
    """
    for path in paths:
        own_devices(path)
    before = IN_USE.set((*paths, *IN_USE.get()))
    try:
        yield
    finally:
        IN_USE.reset(before)
