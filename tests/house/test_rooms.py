"""Imports run downwards only; starting up stays light."""

import subprocess
import sys

import pytest


def test_imports_run_downwards():
    from importlinter.cli import lint_imports

    assert lint_imports(config_filename="pyproject.toml", no_cache=True) == 0


@pytest.mark.parametrize("command", [["--help"], ["check", "--help"], ["check", "FILE"]])
def test_light_commands_import_no_heavy_library(command, tmp_path):
    path = tmp_path / "x.buzz"
    path.write_text('reference "x"\nsocket V1 B9A ECC83\n', encoding="utf-8")
    words = [path.as_posix() if word == "FILE" else word for word in command]
    code = (
        "import sys\nfrom buzzout.cli import main\n"
        f"try: main({words!r})\nexcept SystemExit as end: status = end.code or 0\n"
        "heavy = {'scipy', 'networkx', 'numpy', 'jinja2'} & set(sys.modules)\n"
        "sys.exit(f'{status} {sorted(heavy)}' if status or heavy else 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr
