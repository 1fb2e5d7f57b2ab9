"""One card out of the books beside the bench: a type, a base, bands, a code, a lead colour."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from textwrap import fill

from buzzout.catalogue import codecard
from buzzout.catalogue.bases import Base, base, base_names
from buzzout.catalogue.difference import difference
from buzzout.catalogue.files import data_folder
from buzzout.catalogue.names import nearest
from buzzout.catalogue.picture import socket_svg, socket_text
from buzzout.catalogue.records import Device, Figures
from buzzout.catalogue.shelf import designations, device, near_relatives
from buzzout.catalogue.sources import citation, sources, sources_report
from buzzout.circuit import NotAQuantity

WIDTH = 96
_UNITS = {"ma_per_v": "mA/V", "percent": "%", "kohm": "k", "mohm": "M", "ohm": "ohm"}
_UNITS |= {"v": "V", "ma": "mA", "w": "W", "uf": "uF", "mm": "mm"}
_LONGEST = 30  # characters of a label beside the socket
_OTHER: Mapping[str, Callable[[Sequence[str]], str]] = {
    "bands": codecard.bands_card,
    "body": codecard.body_card,
    "code": codecard.code_card,
    "value": codecard.value_card,
    "mica": codecard.mica_card,
    "colours": codecard.colours_card,
    "colors": codecard.colours_card,
}


def card(name: str, own: Sequence[Path] = ()) -> tuple[str, bool]:
    """The card asked for, and whether there is one; if not, the text says what is near.

    A card is asked for by type or base, as `ECC81 for ECC83` (a type fitted for another), or as
    `bands …`, `body …`, `code …`, `value …`, `mica …` or `colours …`; `sources` counts the figures
    of the catalogue by their sources.
    """
    words = name.split()
    if words == ["sources"]:
        return _sources_card(), True
    if "for" in words[1:-1]:
        place = words.index("for")
        return _fitted(" ".join(words[:place]), " ".join(words[place + 1 :]), own)
    if words == ["colours"] or (words and words[0].lower() in _OTHER and len(words) > 1):
        other = _OTHER[words[0].lower()]
        try:
            return other(words[1:]), True
        except NotAQuantity as error:
            return str(error), False
    if found := device(name, own):
        return device_card(found), True
    if known := base(name):
        return base_card(known), True
    if leads := codecard.lead_card(name.lower()):
        return leads, True
    return _unknown(name), False


def _sources_card() -> str:
    report = sources_report()
    told = sorted(report.by_source.items(), key=lambda item: (-item[1], item[0]))
    rows = [f"{count:>6}  {sources()[key].grade}: {citation(key)}" for key, count in told]
    return "\n".join([str(report), "", "figures that name it:", *map(_folded, rows)]) + "\n"


def _fitted(fitted: str, wanted: str, own: Sequence[Path]) -> tuple[str, bool]:
    """What changes when one type is fitted for another."""
    found = difference(wanted, fitted, own)
    head = f"{fitted} fitted for {wanted}"
    if found.unknown:
        return "\n".join([f"{head}: nothing can be said", *found.reasons]), False
    if found.same:
        return f"{head}: another name for the same type\n", True
    nothing = "  in no figure that the catalogue has of both: compare their cards"
    lines = [f"  {reason}" for reason in found.reasons] or [nothing]
    return "\n".join([f"{head}: not the same type; it differs", *map(_folded, lines)]) + "\n", True


def _unknown(name: str) -> str:
    told = [f"{name!r} is neither a type nor a base in the catalogue."]
    told += [f"{about} ({how})" for about, how in near_relatives(name)]
    if near := nearest(name, (*designations(), *base_names())):
        told.append(f"Did you mean {' or '.join(near)}?")
    told.append(f"A card can also be asked for with: {', '.join(sorted(_OTHER))}.")
    return "\n".join(told)


def base_card(known: Base) -> str:
    """A base: names, picture with the pin numbers, where to count from."""
    also = f"also called {', '.join(known.aliases)}"
    picture = socket_text(known, {})
    where = f"seen from below (wiring side), counted clockwise from: {known.mark}"
    return f"{known.name}   {known.about}\n{also}\n{where}\n\n{picture}\n"


def device_card(found: Device) -> str:
    """Everything the catalogue has on one type, with a numbered list of sources."""
    cite = _Cited()
    parts = [
        f"{found.name}   {found.kind}",
        *_line("also", ", ".join(found.designations[1:]), cite(found.sources["also"])),
        *_socket(found, cite),
        *_inside(found),
        *_heaters(found, cite),
        *_blocks("limits", found.limits, cite),
        *_blocks("typical", found.points, cite),
        *_blocks("rectifier", found.rectifier, cite),
        *(f"near relative {name}: {how}" for name, how in found.similar.items()),
        *(f"note: {note}" for note in found.notes),
        "",
        *cite.listed(),
    ]
    return "\n".join(map(_folded, parts)) + "\n"


def _folded(line: str) -> str:
    """A long line over several, the further ones moved in; a picture is left alone."""
    if len(line) <= WIDTH or "\n" in line:
        return line
    return fill(line, WIDTH, subsequent_indent="    ", break_on_hyphens=False)


class _Cited:
    """Hands out a number for each source and remembers the order."""

    def __init__(self) -> None:
        self.keys: list[str] = []

    def __call__(self, keys: Iterable[str]) -> str:
        numbers = []
        for key in keys:
            if key not in self.keys:
                self.keys.append(key)
            numbers.append(f"[{self.keys.index(key) + 1}]")
        return "".join(numbers)

    def listed(self) -> list[str]:
        return [f"[{i}] {citation(key)}" for i, key in enumerate(self.keys, 1)]


def _line(head: str, text: str, marks: str) -> list[str]:
    return [f"{head}: {text} {marks}".rstrip()] if text else []


def labels(found: Device) -> dict[str, str]:
    """What stands at each pin of a type's socket, for a picture."""
    told = {pin: found.label(pin) for pin in found.pins}
    # long ones in the short form of the trade, so that the picture keeps its width
    return {
        pin: text if len(text) <= _LONGEST else text.replace("suppressor", "g3")
        for pin, text in told.items()
    }


def _socket(found: Device, cite: _Cited) -> Iterator[str]:
    marks = cite(found.sources["pins"])
    known = base(found.base)
    if known is None:
        told = ", ".join(f"{pin} {label}" for pin, label in labels(found).items())
        yield f"leads: {told} {marks}"
        return
    yield f"base: {known.name} ({known.about}), seen from below, clockwise from the mark {marks}"
    yield ""
    yield socket_text(known, labels(found))
    yield ""
    if found.cap:
        yield f"top cap: {found.label('cap')}"


def _inside(found: Device) -> Iterator[str]:
    if found.internal:
        groups = ("pins " + " and ".join(sorted(group)) for group in found.internal)
        yield f"joined inside: {', '.join(sorted(groups))}"
    if found.forbidden:
        yield f"leave free, never a tie point: {_ends(tuple(sorted(found.forbidden)))}"
    alike = [each.name for each in found.exchanges()]
    if alike:
        yield f"no difference to the circuit: {', '.join(alike)}"


def _heaters(found: Device, cite: _Cited) -> Iterator[str]:
    for heater in found.heaters:
        ends = f"{_ends(heater.one)} and {_ends(heater.other)}"
        marks = cite(heater.sources)
        yield f"heater: {heater.volts:g} V {heater.amps:g} A between {ends} {marks}"


def _ends(pins: tuple[str, ...]) -> str:
    return f"pin {pins[0]}" if len(pins) == 1 else f"pins {', '.join(pins)}"


def _blocks(head: str, blocks: Iterable[Figures], cite: _Cited) -> Iterator[str]:
    for block in blocks:
        told = ", ".join(figure(key, value) for key, value in block.values.items())
        each = ", each section" if block.each else ""
        of = f"{block.of}, " if block.of else ""
        title = "" if block.title == "not stated" else block.title
        about = f"{of}{title}{each}".strip(", ")
        note = f" ({block.note})" if block.note else ""
        yield f"{head}{f' ({about})' if about else ''}: {told}{note} {cite(block.sources)}"


def figure(key: str, value: float) -> str:
    """A figure as words: `anode_v` and 250 as "anode 250 V".

    >>> figure("slope_ma_per_v", 1.6), figure("mu", 100.0)
    ('slope 1.6 mA/V', 'mu 100')
    """
    for tail, unit in _UNITS.items():
        if key.endswith(f"_{tail}"):
            return f"{key[: -len(tail) - 1].replace('_', ' ')} {value:g} {unit}"
    return f"{key.replace('_', ' ')} {value:g}"


@cache
def meanings() -> Mapping[str, str]:
    """What each key of a figure means, with its unit, from the schema."""
    text = (data_folder() / "device.schema.json").read_text(encoding="utf-8")
    return {k: v["description"] for k, v in json.loads(text)["$defs"]["figures"].items()}


def device_svg(found: Device) -> str:
    """The socket of a type as SVG, "" where it has none."""
    known = base(found.base)
    return socket_svg(known, labels(found)) if known else ""
