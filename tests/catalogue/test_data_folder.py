"""The data folder, in a source tree and in a wheel."""

from __future__ import annotations

import pytest

from buzzout.catalogue import files


def test_the_folders_are_there():
    assert (files.data_folder() / "device.schema.json").is_file()
    assert list(files.data_folder("grammars").iterdir())


def test_a_wheel_carries_its_data_inside_the_package(monkeypatch, tmp_path):
    inside = tmp_path / "site-packages" / "buzzout" / "_data" / "references"
    inside.mkdir(parents=True)
    monkeypatch.setattr(files, "_PACKAGE", inside.parent.parent)
    assert files.data_folder.__wrapped__() == inside


def test_a_folder_that_is_missing_says_so():
    with pytest.raises(FileNotFoundError, match="the data folder 'recipes' is missing"):
        files.data_folder("recipes")
