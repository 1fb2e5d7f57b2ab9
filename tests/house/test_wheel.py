"""The built wheel, in a fresh environment, outside the checkout, does the main job."""

import os
import shutil
import subprocess
import sys
import venv
from functools import partial
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "examples" / "hall-amplifier"


@pytest.fixture(scope="module")
def fresh(tmp_path_factory):
    """An environment of its own with nothing but the wheel and what it needs."""
    folder = tmp_path_factory.mktemp("fresh")
    source = folder / "source"
    ignore = shutil.ignore_patterns(".git", ".venv", "*_cache", "__pycache__", "dist", "tests")
    shutil.copytree(ROOT, source, ignore=ignore)
    run = partial(subprocess.run, check=True, capture_output=True, timeout=600)
    build = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "-o", folder, source]
    run(build)
    venv.create(folder / "env", with_pip=True)
    scripts = folder / "env" / ("Scripts" if os.name == "nt" else "bin")
    wheel = next(folder.glob("buzzout-*.whl"))
    run([scripts / "python", "-m", "pip", "install", "-q", wheel])
    shutil.rmtree(source)
    return folder, scripts


def test_the_demo_runs_from_the_wheel_alone(fresh):
    folder, scripts = fresh
    shutil.copytree(DEMO, folder / "demo")
    done = subprocess.run(
        [scripts / "buzzout", "compare", "hall-amplifier.reference.buzz", "as-received.found.buzz",
         "--drawing", "out.svg", "--html", "out.html"],
        cwd=folder / "demo", capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 1, done.stderr
    assert "Not fit for power" in done.stdout
    assert (folder / "demo" / "out.svg").read_text(encoding="utf-8").rstrip().endswith("</svg>")
    assert "<!doctype html>" in (folder / "demo" / "out.html").read_text(encoding="utf-8").lower()


def test_the_catalogue_travels_inside_the_wheel(fresh):
    folder, scripts = fresh
    done = subprocess.run(
        [scripts / "buzzout", "card", "ECC83"],
        cwd=folder, capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "B9A" in done.stdout
