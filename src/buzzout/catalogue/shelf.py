"""Finding a device by any of its names: one entry is read and built, not the whole shelf.

An entry of a device file starts where a line starts without a blank. So the files can be cut into
entries without understanding them, and only an entry that mentions the wanted name is parsed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextvars import ContextVar
from functools import cache
from pathlib import Path

from buzzout.catalogue.files import data_folder
from buzzout.catalogue.names import plain
from buzzout.catalogue.records import Device

_ENTRY = re.compile(
    r'^(?P<quote>["\']?)(?P<name>[^\s#"\'][^:"\'\n]*)(?P=quote):[ \t]*$', re.MULTILINE
)
NOT_DEVICES = ("sources",)
# A restorer's own files that stand before the shipped ones for now: see `own.with_own`.
IN_USE: ContextVar[tuple[Path, ...]] = ContextVar("own device files", default=())


def device(name: str, own: Sequence[Path] = ()) -> Device | None:
    """The device with that designation or equivalent, None if nobody knows it.

    `own` are files of the user, the first one first; they stand before the shipped ones, and so do
    the files of `with_own`.

    Raises
    ------
    NotADeviceFile
        If one of `own` is not in order; the message lists every fault with its line.
    """
    wanted = plain(name)
    for devices in _own((*own, *IN_USE.get())):
        if found := devices.get(wanted):
            return found
    return _shipped(wanted)


def _own(paths: Sequence[Path]) -> list[dict[str, Device]]:
    if not paths:
        return []
    from buzzout.catalogue.own import own_devices  # noqa: PLC0415 - brings the schema along

    return [own_devices(path) for path in paths]


@cache
def _shipped(wanted: str) -> Device | None:
    if not wanted:
        return None
    mentioned = [entry for entry in _entries() if wanted in entry[2]]
    for entry in sorted(mentioned, key=lambda e: plain(e[0]) != wanted):  # main names first
        known = _built(entry[0])
        if wanted in map(plain, known.designations):
            return known
    return None


@cache
def _entries() -> tuple[tuple[str, str, str], ...]:
    """Main name, text, and text squeezed for searching, of every shipped device."""
    found = []
    for path in device_files():
        for name, text in cut(path.read_text(encoding="utf-8")):
            found.append((name, text, plain(text)))
    return tuple(found)


@cache
def _built(name: str) -> Device:
    from buzzout.catalogue.build import build  # noqa: PLC0415 - YAML only when asked for
    from buzzout.catalogue.reading import read_sheet  # noqa: PLC0415

    text = next(entry[1] for entry in _entries() if entry[0] == name)
    return build(name, read_sheet(text, name).data[name])


def cut(text: str) -> Iterator[tuple[str, str]]:
    """Entries of a device file as (name, text)."""
    heads = list(_ENTRY.finditer(text))
    for i, head in enumerate(heads):
        end = heads[i + 1].start() if i + 1 < len(heads) else len(text)
        if head["name"] not in NOT_DEVICES:
            yield head["name"], text[head.start() : end]


def device_files() -> tuple[Path, ...]:
    """The shipped device files, one family each."""
    return tuple(sorted((data_folder() / "devices").glob("*.yaml")))


def device_names() -> tuple[str, ...]:
    """Main names of all devices: the shipped ones and those of `with_own`."""
    own = {each.name for devices in _own(IN_USE.get()) for each in devices.values()}
    return tuple(sorted({*_shipped_names(), *own}))


@cache
def _shipped_names() -> tuple[str, ...]:
    return tuple(sorted(entry[0] for entry in _entries()))


def designations() -> tuple[str, ...]:
    """Every name of every device; reads all of them, for suggesting near misses."""
    own = {d for devices in _own(IN_USE.get()) for e in devices.values() for d in e.designations}
    return tuple(sorted({*_shipped_designations(), *own}))


@cache
def _shipped_designations() -> tuple[str, ...]:
    return tuple(sorted({d for name in _shipped_names() for d in _built(name).designations}))


@cache
def _relatives() -> dict[str, tuple[tuple[str, str], ...]]:
    found: dict[str, tuple[tuple[str, str], ...]] = {}
    for name in _shipped_names():
        for relative, differs in _built(name).similar.items():
            mine = (f"{relative} is a near relative of {name}", differs)
            found[plain(relative)] = (*found.get(plain(relative), ()), mine)
    return found


def near_relatives(name: str) -> tuple[tuple[str, str], ...]:
    """For a name that is no device of its own: whose near relative it is, and what differs."""
    return _relatives().get(plain(name), ())
