"""Fit the valve models to the published figures and print what is off.

Reads `references/models/points.yaml`, writes `references/models/models.yaml`. Prints, for every
printed figure, the model's value and the error, first those fitted, then those held back.

    python tools/fit_valves.py           # fit, print, write
    python tools/fit_valves.py --check   # print only, from the models as written
"""

# ruff: noqa: T201 - it prints

from __future__ import annotations

import math
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

import yaml

from buzzout.electrics.fit import TRUST, Residual, fit, residuals
from buzzout.electrics.valves import Model

NEGLIGIBLE = 0.02  # mA: cut-off is judged in absolute terms
HERE = Path(__file__).parents[1] / "references" / "models"
HEAD = """\
# Valve model parameters, fitted by tools/fit_valves.py to points.yaml. Do not edit by hand.
# Units: mu [1], power [1], k [A/V^power], sharp [1], bend [V], contact [V], share [1], slope [1],
# knee [1], rise [1/V], soft [V], far [1], wide [1], grid_k [A/V^1.5], grid_soft [V].
# `memory`: no other figures.
"""


def table(name: str, model: Model, rows: list[dict[str, Any]]) -> None:
    """Print printed figure, modelled figure and error for one type."""
    print(f"\n{name}")
    for use in ("fit", "held"):
        for line in residuals(model, [r for r in rows if r["use"] == use]):
            print(
                f"  {use:4} {line.what:44} {line.printed:9.3f} {line.modelled:9.3f} "
                f"{100 * line.error:+7.1f} %  {line.source}"
            )


def summary(lines: list[Residual]) -> None:
    """Print how far off each kind of figure is, memory left out, fitted and held apart."""
    print("\nfigure    use   number   rms      worst    (figures from memory left out)")
    for figure in TRUST:
        for use in ("fit", "held"):
            errors = [
                r.error
                for r in lines
                if r.use == use and r.what.split()[0] == figure and r.source != "from-memory"
                and abs(r.printed) > NEGLIGIBLE
            ]  # fmt: skip
            if errors:
                rms = math.sqrt(sum(e * e for e in errors) / len(errors))
                worst = max(errors, key=abs)
                print(
                    f"{figure:9} {use:5} {len(errors):5}  {100 * rms:6.1f} %  {100 * worst:+6.1f} %"
                )


def main() -> int:
    """Fit all types, or check the written ones."""
    data = yaml.safe_load((HERE / "points.yaml").read_text(encoding="utf-8"))
    target = HERE / "models.yaml"
    if "--check" in sys.argv:
        written = yaml.safe_load(target.read_text(encoding="utf-8"))
        lines: list[Residual] = []
        for name, told in data["types"].items():
            model = {k: v for k, v in written[name].items() if k not in ("memory", "kind", "names")}
            table(name, Model(**model), told["rows"])
            lines += residuals(Model(**model), told["rows"])
        summary(lines)
        return 0
    fitted: dict[str, dict[str, Any]] = {}
    told_all: list[Residual] = []
    for name, told in data["types"].items():
        model = fit(told["rows"], told["kind"])
        table(name, model, told["rows"])
        told_all += residuals(model, told["rows"])
        used = [r["source"] for r in told["rows"] if r["use"] == "fit"]
        memory = all(source == "from-memory" for source in used)
        values = {
            k: float(f"{v:.6g}") if isinstance(v, float) else v for k, v in asdict(model).items()
        }
        head = {"kind": told["kind"], "names": told.get("names", [name]), "memory": memory}
        fitted[name] = {**head, **values}
    summary(told_all)
    target.write_text(HEAD + yaml.safe_dump(fitted, sort_keys=False), encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
