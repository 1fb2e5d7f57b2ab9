"""Where the figures come from: the list of sources, and how many figures rest on each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from buzzout.catalogue.files import data_folder
from buzzout.catalogue.reading import read_sheet
from buzzout.catalogue.shelf import device_files

GRADES = ("sheet", "table", "second-hand", "weak", "practice", "memory")


@dataclass(frozen=True, slots=True)
class Source:
    """One source: its short key, the full citation, and how near it is to the printed sheet."""

    key: str
    cite: str
    grade: str


@dataclass(frozen=True, slots=True)
class SourcesReport:
    """How many figures of the catalogue rest on what.

    A figure is a pin, a name, a voltage, a current…: each single thing one could get wrong.
    `best` counts every figure once, under the best grade among its sources; `by_source` counts it
    under each of its sources; `two` counts pins that two sources or more agree on.
    """

    devices: int
    figures: int
    best: Mapping[str, int]
    by_source: Mapping[str, int]
    pins: int
    two: int

    @property
    def memory_share(self) -> float:
        """Share of figures that rest on memory alone, between 0 and 1."""
        return self.best.get("memory", 0) / self.figures

    def __str__(self) -> str:
        lines = [f"{self.devices} types, {self.figures} figures"]
        lines += [f"  {grade:<12}{self.best.get(grade, 0):>6}" for grade in GRADES]
        lines.append(f"  from memory alone: {self.memory_share:.1%}")
        lines.append(f"  pins: {self.pins}, of these {self.two} in two sources or more")
        return "\n".join(lines)


@cache
def sources() -> Mapping[str, Source]:
    """All sources of the shipped catalogue by key."""
    path = data_folder() / "sources.yaml"
    sheet = read_sheet(path.read_text(encoding="utf-8"), path.name)
    return {key: Source(key, e["cite"], e["grade"]) for key, e in sheet.data.items()}


def citation(key: str) -> str:
    """The full citation of a key; the key itself if it is no key but words."""
    known = sources().get(key)
    return known.cite if known else key


def sources_report() -> SourcesReport:
    """Counts every figure of the shipped catalogue by its sources."""
    best: Counter[str] = Counter()
    by_source: Counter[str] = Counter()
    pins = two = devices = 0
    for entry in _entries():
        devices += 1
        for path, keys, count in _blocks(entry, ()):
            best[_best(keys)] += count
            by_source.update(dict.fromkeys(keys, count))
            if path == ("pins",):
                pins += count
                two += count if len(set(keys) - {"from-memory", "common-practice"}) > 1 else 0
    return SourcesReport(devices, best.total(), dict(best), dict(by_source), pins, two)


def _entries() -> Iterator[Any]:
    for path in device_files():
        yield from read_sheet(path.read_text(encoding="utf-8"), path.name).data.values()


def _blocks(data: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], list[str], int]]:
    """Each block with a source: its path, its sources, how many figures it has."""
    if isinstance(data, dict):
        if "source" in data:
            told = data["source"]
            yield path, [told] if isinstance(told, str) else told, _figures(data, path)
            return
        for key, value in data.items():
            yield from _blocks(value, (*path, key))
    elif isinstance(data, list):
        for item in data:
            yield from _blocks(item, path)


def _figures(block: Mapping[str, Any], path: tuple[str, ...]) -> int:
    if path == ("pins",):
        return len(block) - 1
    if "names" in block:
        return len(block["names"])
    if "between" in block:
        return 3  # volts, amperes, and the pins
    return max(1, sum(isinstance(value, int | float) for value in block.values()))


def _best(keys: Iterable[str]) -> str:
    known = sources()
    grades = {known[key].grade for key in keys}
    return next(grade for grade in GRADES if grade in grades)
