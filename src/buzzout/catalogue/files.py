"""Where the data files lie: inside the wheel, or at the root of a source tree."""

from __future__ import annotations

from functools import cache
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent.parent


@cache
def data_folder(name: str = "references") -> Path:
    """Folder of data files that travels with the package: `references` or `grammars`.

    Raises
    ------
    FileNotFoundError
        If neither place has it; the package was put together wrongly.
    """
    for folder in (_PACKAGE / "_data" / name, _PACKAGE.parent.parent / name):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"the data folder {name!r} is missing from this installation")
