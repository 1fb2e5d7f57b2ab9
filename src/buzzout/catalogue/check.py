"""What is wrong with a file of devices: all of it in one go, each fault with file, line and path.

First the shape, against the published schema; then what a schema cannot say: pins that the base
does not have, electrodes that nobody knows, a heater on pins that are none.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from functools import cache
from typing import Any, NamedTuple

from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

from buzzout.catalogue.bases import base, base_names
from buzzout.catalogue.build import electrode
from buzzout.catalogue.files import data_folder
from buzzout.catalogue.names import nearest, plain
from buzzout.catalogue.reading import Fault, Path_, Sheet
from buzzout.catalogue.records import HEATING, ROLES

WITHOUT_SOCKET = "leads"  # base of a part with leads: its pins are terminal names
_EXPECTED = {"object": "names with a colon behind each", "array": "a list", "number": "a number"}


@cache
def _validator() -> Draft202012Validator:
    text = (data_folder() / "device.schema.json").read_text(encoding="utf-8")
    return Draft202012Validator(json.loads(text))


def faults(sheet: Sheet, sources: Collection[str] | None = None) -> tuple[Fault, ...]:
    """Every fault of a device file, in the order of its lines.

    `sources` are the keys that a source may be; None takes any words, as in a restorer's own file.
    """
    found = [*sheet.faults, *_shape(sheet)]
    for name, data in _devices(sheet.data):
        for path, message in _meaning(data):
            found.append(sheet.fault((name, *path), message))
    found += [sheet.fault(path, words) for path, words in _twice(sheet.data)]
    if sources is not None:
        known = {*sources, *sheet.data.get("sources", {})}
        found += [sheet.fault(path, words) for path, words in _unknown_sources(sheet.data, known)]
    return tuple(sorted(set(found), key=lambda f: (f.line, f.path, f.message)))


def _devices(data: Mapping[str, Any]) -> Iterator[tuple[str, Mapping[str, Any]]]:
    for name, entry in data.items():
        if name != "sources" and isinstance(entry, dict):
            yield name, entry


def _shape(sheet: Sheet) -> Iterator[Fault]:
    told = {fault.path for fault in sheet.faults}
    for error in _validator().iter_errors(sheet.data):
        for path, message in _explain(error, sheet):
            if ".".join(path) not in told:
                yield sheet.fault(path, message)


def _explain(error: ValidationError, sheet: Sheet) -> Iterator[tuple[Path_, str]]:
    path = tuple(str(p + 1) if isinstance(p, int) else str(p) for p in error.absolute_path)
    explain = _SAYINGS.get(str(error.validator))
    rule: Any = error.validator_value
    yield from (
        explain(_Broken(error.instance, rule, error.schema), path, sheet)
        if explain
        else [(path, error.message)]
    )


class _Broken(NamedTuple):
    """A value that breaks a rule of the schema, the rule, and the part of the schema around it."""

    value: Any
    rule: Any
    schema: Any


_Sayings = Iterable[tuple[Path_, str]]


def _say_required(error: _Broken, path: Path_, _: Sheet) -> _Sayings:
    for key in error.rule:
        if key not in error.value:
            yield path, f"{key} is missing"


def _say_extra(error: _Broken, path: Path_, _: Sheet) -> _Sayings:
    known = list(error.schema["properties"])
    for key in error.value:
        if key not in known:
            yield (*path, key), f"is not known here{_perhaps(key, known)}"


def _say_type(error: _Broken, path: Path_, sheet: Sheet) -> _Sayings:
    if error.rule == "string" and path in sheet.raw:
        raw = sheet.raw[path]
        yield path, f'{raw} is read as a number; write it in quotes: "{raw}"'
    elif error.rule == "number":
        yield path, f"{error.value!r} is no number (the unit stands in the name)"
    else:
        yield path, f"expected {_EXPECTED.get(error.rule, 'words')}"


def _say_enum(error: _Broken, path: Path_, _: Sheet) -> _Sayings:
    near = _perhaps(str(error.value), error.rule)
    yield path, f"{error.value!r} is none of {', '.join(error.rule)}{near}"


def _say_pattern(error: _Broken, path: Path_, _: Sheet) -> _Sayings:
    if "pins" in path:
        yield (
            path,
            f"{error.value!r} is no electrode such as: anode, cathode + suppressor, grid 2",
        )
    elif "sections" in path:
        yield path, f"sections are numbered 1 to 9, not {error.value!r}"
    else:
        yield path, f"{error.value!r} has blanks where none belong"


def _say_empty(_: _Broken, path: Path_, __: Sheet) -> _Sayings:
    yield path, "is empty"


def _say_no_figure(_: _Broken, path: Path_, __: Sheet) -> _Sayings:
    yield path, "has no figure"


def _say_positive(_: _Broken, path: Path_, __: Sheet) -> _Sayings:
    yield path, "must be more than 0"


def _say_source(_: _Broken, path: Path_, __: Sheet) -> _Sayings:
    yield path, "a source is a word, words in quotes, or a list of them"


_SAYINGS: Mapping[str, Callable[[_Broken, Path_, Sheet], _Sayings]] = {
    "required": _say_required,
    "additionalProperties": _say_extra,
    "type": _say_type,
    "enum": _say_enum,
    "pattern": _say_pattern,
    "minLength": _say_empty,
    "minItems": _say_empty,
    "minProperties": _say_no_figure,
    "exclusiveMinimum": _say_positive,
    "oneOf": _say_source,
}


def _perhaps(word: str, among: Iterable[str]) -> str:
    near = nearest(word, among, most=1)
    return f"; did you mean {near[0]}?" if near else ""


def _meaning(data: Mapping[str, Any]) -> Iterator[tuple[Path_, str]]:
    pins = data.get("pins")
    if not isinstance(pins, dict):
        return
    told = {p: str(e) for p, e in pins.items() if p != "source"}
    yield from _base_faults(data.get("base"), told)
    yield from _role_faults(told, data.get("sections"))
    yield from _heater_faults(told, data.get("heaters"))


def _base_faults(name: Any, told: Mapping[str, str]) -> Iterator[tuple[Path_, str]]:
    if not isinstance(name, str) or name == WITHOUT_SOCKET:
        return
    known = base(name)
    if known is None:
        yield ("base",), f"there is no base {name!r}; there are {', '.join(base_names())}"
        return
    for pin in told:
        if pin != "cap" and pin not in known.pins:
            yield ("pins", pin), f"the base {known.name} has no pin {pin}"
    missing = [pin for pin in known.pins if pin not in told]
    if missing:
        words = "is unused, internal or absent if it is joined to no electrode"
        yield ("pins",), f"pin {', '.join(missing)} is not told; a pin {words}"


def _role_faults(told: Mapping[str, str], sections: Any) -> Iterator[tuple[Path_, str]]:
    numbers = sections if isinstance(sections, dict) else {}
    for pin, text in told.items():
        found = electrode(text)
        for role in found.roles:
            if role not in ROLES:
                yield ("pins", pin), f"there is no electrode {role!r}{_perhaps(role, ROLES)}"
        if found.section and str(found.section) not in numbers:
            yield ("pins", pin), f"there is no section {found.section}"


def _heater_faults(told: Mapping[str, str], heaters: Any) -> Iterator[tuple[Path_, str]]:
    for index, heater in enumerate(heaters if isinstance(heaters, list) else [], 1):
        for end in ("between", "and"):
            for pin in str(heater.get(end, "") if isinstance(heater, dict) else "").split():
                roles = electrode(told.get(pin, "")).roles
                if not set(roles) & set(HEATING):
                    yield ("heaters", str(index), end), f"pin {pin} is no heater or filament"


def _twice(data: Mapping[str, Any]) -> Iterator[tuple[Path_, str]]:
    """Names that two devices of the file claim."""
    owners: dict[str, str] = {}
    for name, entry in _devices(data):
        groups = entry.get("also", [])
        also = [n for g in groups if isinstance(g, dict) for n in _listed(g.get("names"))]
        for each in dict.fromkeys([name, *also]):
            owner = owners.setdefault(plain(str(each)), name)
            if owner != name:
                yield (name,), f"the name {each} belongs to {owner} already"


def _unknown_sources(data: Any, known: Collection[str]) -> Iterator[tuple[Path_, str]]:
    if isinstance(data, dict):
        for key, value in data.items():
            if key == "source":
                for each in _listed(value):
                    if each not in known:
                        words = f"there is no source {each!r}{_perhaps(str(each), known)}"
                        yield ("source",), words
            elif key != "sources":
                yield from (((key, *p), m) for p, m in _unknown_sources(value, known))
    elif isinstance(data, list):
        for index, item in enumerate(data, 1):
            yield from (((str(index), *p), m) for p, m in _unknown_sources(item, known))


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [] if value is None else [value]
