"""Regions that a drawing can name behind its mains: those whose rules are known."""

from __future__ import annotations

from functools import cache

from buzzout.catalogue.files import data_folder


@cache
def region_names() -> tuple[str, ...]:
    """Names of the regions in `references/rules/regions.yaml`, in the order of that file."""
    from buzzout.catalogue.reading import read_sheet  # noqa: PLC0415 - YAML is slow to import

    path = data_folder() / "rules" / "regions.yaml"
    return tuple(read_sheet(path.read_text(encoding="utf-8"), path.name).data)
