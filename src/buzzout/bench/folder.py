"""A job folder: which files it has, and how one is begun without ever losing anything."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from buzzout.bench import blank
from buzzout.bench.keep import write_new
from buzzout.language import Loaded

CHASSIS = "chassis.found.buzz"
READINGS = "readings.found.buzz"
DECISIONS = "decisions.txt"
PHOTOGRAPHS = "photographs"
_KEPT = ".kept.found.buzz"


class Refused(Exception):
    """The folder cannot be used as asked. The message says why and what to do."""


@dataclass(frozen=True)
class Folder:
    """Where the files of a job lie."""

    path: Path

    @property
    def chassis(self) -> Path:
        """The chassis, point by point."""
        return self.path / CHASSIS

    @property
    def readings(self) -> Path:
        """What the meter said."""
        return self.path / READINGS

    @property
    def decisions(self) -> Path:
        """What is to be done about each finding."""
        return self.path / DECISIONS

    @property
    def photographs(self) -> Path:
        """The folder for photographs."""
        return self.path / PHOTOGRAPHS

    @property
    def drawings(self) -> tuple[Path, ...]:
        """The drawings that lie in the folder, by name."""
        return tuple(sorted(self.path.glob("*.reference.buzz")))

    @property
    def departures(self) -> tuple[Path, ...]:
        """Files of wanted changes, by name: they are made in this order."""
        return tuple(sorted(self.path.glob("*.departures.buzz")))

    @property
    def states(self) -> tuple[str, ...]:
        """The names under which earlier states of the chassis are kept."""
        return tuple(sorted(p.name.removesuffix(_KEPT) for p in self.path.glob(f"*{_KEPT}")))

    def kept(self, name: str) -> Path:
        """Where a state of the chassis is kept under a name, as `as-received`."""
        return self.path / f"{name}{_KEPT}"


@dataclass(frozen=True)
class Begun:
    """What came of beginning a job: files written now, and files that were there and stayed."""

    folder: Folder
    written: tuple[Path, ...]
    kept: tuple[Path, ...]


def begin(drawing: Loaded, path: Path) -> Begun:
    """Begin a job, or complete one whose beginning was cut short.

    The drawing is copied with the files that it includes; one that lies in the folder already is
    used where it is. A file that is there is never touched.

    Raises
    ------
    Refused
        If the folder holds another drawing, or the drawing includes files from elsewhere.
    OSError
        If the folder cannot be written to.
    """
    folder = Folder(path)
    if path.exists() and not path.is_dir():
        raise Refused(f"{path} is a file; name a folder")
    wanted = list(_files(drawing, folder))
    for target, data in wanted:
        if _reads(target) and target.is_file() and target.read_bytes() != data:
            raise Refused(
                f"{target} is there and is not the drawing you named: nothing was touched;"
                " name another folder, or take the drawing that is there"
            )
    folder.photographs.mkdir(parents=True, exist_ok=True)
    done: dict[bool, list[Path]] = {True: [], False: []}
    for target, data in wanted:
        target.parent.mkdir(parents=True, exist_ok=True)
        done[write_new(target, data)].append(target)
    return Begun(folder, tuple(done[True]), tuple(done[False]))


def _reads(target: Path) -> bool:
    """Tell a file that holds the drawing from one that a person fills in."""
    return target.name not in (CHASSIS, READINGS, DECISIONS)


def _files(drawing: Loaded, folder: Folder) -> Iterator[tuple[Path, bytes]]:
    """The files of a new job with what is in them, in the order they are written."""
    main, *included = (Path(name) for name in drawing.sources)
    named = _drawing_name(main)
    if '"' in named:
        raise Refused(f"{main}: a file name with quotation marks cannot be named in our language")
    if main.resolve().parent != folder.path.resolve():
        others = [p for p in folder.drawings if p.name != named]
        if others:
            raise Refused(f"{others[0]} is there: a job has one drawing; use another folder")
        for source in (main, *included):
            inside = Path(os.path.relpath(source, main.parent))
            if inside.is_absolute() or ".." in inside.parts:
                raise Refused(
                    f"{main} includes {source}, which lies outside its folder: copy both into"
                    " the job folder yourself and begin again"
                )
            target = folder.path / (named if source == main else inside)
            yield target, source.read_bytes()
    elif main.name != named:
        raise Refused(f"call it {named}, so that it is known as the drawing of this job")
    title = drawing.circuit.title
    yield folder.chassis, blank.chassis(drawing.circuit, named).encode()
    yield folder.readings, blank.readings(title, CHASSIS).encode()
    yield folder.decisions, blank.DECISIONS.encode()


def _drawing_name(main: Path) -> str:
    """The name a drawing has in the folder: always with `.reference.buzz` at its end."""
    name = main.name.removesuffix(".buzz").removesuffix(".reference")
    return f"{name}.reference.buzz"


def keep_state(folder: Folder, name: str) -> Path:
    """Keep the chassis file as it is now under a name of its own.

    Raises
    ------
    Refused
        If the name is taken by another state, or is no plain name.
    OSError
        If the chassis file cannot be read or the copy not be written.
    """
    if not name or name != Path(name).name or name.startswith("."):
        raise Refused(f"{name!r} is no name for a state: as-received, after-supply")
    target, data = folder.kept(name), folder.chassis.read_bytes()
    if not write_new(target, data) and target.read_bytes() != data:
        raise Refused(f"{target} is kept already and is another state: choose another name")
    return target
