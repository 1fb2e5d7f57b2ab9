"""Writing files so that a power cut at any moment loses nothing, and nothing is written over.

A file appears whole under its name or not at all: it is written under another name beside it,
brought to the disk, and only then given its own. What a person typed is never replaced; the one
exception is a line added at the end, and only if the file still is what was read. Pages, pictures
and formatted files that a command was asked to write do replace the old ones.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]


class Changed(OSError):
    """Somebody else wrote the file between our reading and our writing; nothing was written."""


def write_new(path: Path, data: bytes) -> bool:
    """Write a file that is not there yet. False, and nothing written, where there is one.

    Raises
    ------
    OSError
        If the folder cannot be written to.
    """
    if path.exists():
        return False
    beside = _written_beside(path, data)
    try:
        placed = _placed(beside, path)
    finally:
        beside.unlink(missing_ok=True)
    _settle(path.parent)
    return placed


def write_over(path: Path, data: bytes, was: bytes | None = None) -> None:
    """Write a file that we make (a page, a picture), in place of the one that was there.

    `was` is what was read, where the file is the person's own and laid out anew.

    Raises
    ------
    Changed
        If the file is no longer what was read.
    OSError
        If it cannot be written; then the old one is there still.
    """
    beside = _written_beside(path, data)
    try:
        if path.exists():
            beside.chmod(path.stat().st_mode)
        if was is None:
            os.replace(beside, path)  # noqa: PTH105
        else:
            _replaced_if(path, was, beside)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    _settle(path.parent)


def add_line(path: Path, line: str) -> None:
    """Add one line at the end of a text file, with its line ends; the whole of it or nothing.

    Raises
    ------
    Changed
        If the file is no longer what was read a moment ago (an editor saved it).
    OSError
        If it cannot be read or written.
    """
    with _alone(path.parent):
        before = path.read_bytes()
        end = b"\r\n" if before.rfind(b"\r\n") + 1 == before.rfind(b"\n") > 0 else b"\n"
        gap = b"" if not before or before.endswith(b"\n") else end
        beside = _written_beside(path, before + gap + line.encode() + end)
        try:
            beside.chmod(path.stat().st_mode)
            _replaced_if(path, before, beside)
        except BaseException:
            beside.unlink(missing_ok=True)
            raise
        _settle(path.parent)


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """One command of ours at a time in a folder, where the system can; a kill frees it."""
    if fcntl is None:
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):  # some file systems know no locks
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _replaced_if(path: Path, before: bytes, beside: Path) -> None:
    if path.read_bytes() != before:
        raise Changed(0, "it was saved by somebody else just now", str(path))
    os.replace(beside, path)  # noqa: PTH105


def _written_beside(path: Path, data: bytes) -> Path:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    beside = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(0o666 & ~_umask())
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    return beside


def _placed(beside: Path, path: Path) -> bool:
    """Give a file its name unless that is taken by now."""
    try:
        os.link(beside, path)  # fails where the name is taken, as we need it
    except FileExistsError:
        return False
    except OSError:  # a file system without hard links: an empty file holds the name first
        try:
            path.touch(exist_ok=False)
        except FileExistsError:
            return False
        os.replace(beside, path)  # noqa: PTH105
    return True


def _settle(folder: Path) -> None:
    """Bring the folder's own list of names to the disk, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError:
        pass  # some file systems know no such thing
    finally:
        os.close(handle)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
