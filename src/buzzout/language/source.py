"""Files as they come: encodings, line ends, tabs, and the many ways in which there is no file."""

from __future__ import annotations

from pathlib import Path

from buzzout.circuit import Span
from buzzout.language.problems import ProblemList

_MARKS = ((b"\xff\xfe", "UTF-16"), (b"\xfe\xff", "UTF-16"), (b"\x00", "a binary format"))


def read_lines(path: Path, problems: ProblemList, asked: Span | None = None) -> tuple[str, ...]:
    """The lines of a text file without their ends; () after noting what is wrong.

    `asked` is the place that names the file, where another file does.
    """
    shown = path.as_posix()
    where = asked or Span(shown)
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        problems.error(where, f"there is no file {shown}", _neighbour(path))
        return ()
    except IsADirectoryError:
        problems.error(where, f"{shown} is a folder", "name the .buzz file inside it")
        return ()
    except OSError as error:
        problems.error(where, f"cannot read {shown}: {error.strerror}")
        return ()
    text = _decoded(data, shown, problems)
    if text is None:
        return ()
    if not text.strip():
        problems.error(
            Span(shown),
            f"{shown} is empty",
            'begin with a line such as: reference "Hall amplifier"',
        )
        return ()
    return tuple(text.replace("\r\n", "\n").replace("\r", "\n").rstrip("\n").split("\n"))


def _decoded(data: bytes, shown: str, problems: ProblemList) -> str | None:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        column = error.start - (data.rfind(b"\n", 0, error.start) + 1) + 1
        span = Span(shown, line, column, column + 1)
        kind = next((name for mark, name in _MARKS if mark in data[:64]), "")
        if kind:
            problems.error(Span(shown), f"{shown} is {kind}, not plain text in UTF-8")
            return None
        odd = data[error.start : error.start + 1].decode("latin-1")
        problems.error(
            span,
            f"this is not UTF-8: byte 0x{data[error.start]:02X}, which is {odd!r} in Latin-1",
            "save the file as UTF-8 in your editor, or write u for micro and ohm for the sign",
        )
        return None


def _neighbour(path: Path) -> str:
    """Name the file in the same folder that was probably meant."""
    import difflib  # noqa: PLC0415  (only when something went wrong)

    try:
        names = sorted(p.name for p in path.parent.iterdir() if p.suffix == ".buzz")
    except OSError:
        return f"there is no folder {path.parent.as_posix()} either"
    close = difflib.get_close_matches(path.name, names, 1, 0.5)
    if close:
        return f"did you mean {(path.parent / close[0]).as_posix()}?"
    return f"the .buzz files in that folder are: {', '.join(names)}" if names else ""
