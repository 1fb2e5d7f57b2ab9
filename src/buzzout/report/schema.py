"""The published schema of the JSON output."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from buzzout.catalogue.files import data_folder


@cache
def schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) that every JSON output of a comparison fulfils."""
    path = data_folder() / "comparison.schema.json"
    loaded: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return loaded
