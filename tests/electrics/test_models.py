from dataclasses import asdict
from pathlib import Path

import pytest
import yaml

from buzzout.catalogue import device
from buzzout.electrics.fit import fit
from buzzout.electrics.models import KINDS, PUBLISHED, law, model, relatives
from buzzout.electrics.rectifier import drop

HERE = Path(__file__).parents[2] / "references" / "models"
POINTS = yaml.safe_load((HERE / "points.yaml").read_text(encoding="utf-8"))
MODELS = yaml.safe_load((HERE / "models.yaml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", sorted(POINTS["types"]))
def test_written_models_are_the_fitted_ones(name):
    told = POINTS["types"][name]
    fitted = asdict(fit(told["rows"], told["kind"]))
    for key, value in fitted.items():
        assert MODELS[name][key] == pytest.approx(value, rel=1e-4), key


@pytest.mark.parametrize("name", sorted({n for m in MODELS.values() for n in m["names"]}))
def test_every_model_has_a_device(name):
    found = device(name)
    assert found is not None
    kinds = {KINDS.get(section.kind) for section in found.sections}
    assert kinds & {"triode", "pentode", "beam"}
    assert any(model(found, s.kind) for s in found.sections if s.kind in KINDS)


def test_figures_from_memory_mark_the_model():
    for name, told in POINTS["types"].items():
        sources = [row["source"] for row in told["rows"] if row["use"] == "fit"]
        assert MODELS[name]["memory"] == all(s == "from-memory" for s in sources)
        assert not [r for r in told["rows"] if r["use"] == "held" and r["source"] == "from-memory"]


@pytest.mark.parametrize(
    ("name", "volts", "amps", "origin"),
    [
        ("EZ80", 20.0, 0.063, PUBLISHED),
        ("1N4007", 0.75, 0.05, PUBLISHED),
        ("12X4", 22.0, 0.07, "taken as that of 6X4"),
        ("EZ40", 21.0, 0.07, "from a published output voltage"),
    ],
)
def test_drop_of_a_rectifier(name, volts, amps, origin):
    known = law(device(name))
    assert known.origin == origin
    assert drop(known.law, amps)[0] == pytest.approx(volts, rel=0.1)


def test_a_rectifier_without_figures_is_assumed_and_said():
    known = law(device("80"))
    assert "assumed" in known.origin


def test_relatives_with_other_systems_do_not_count():
    assert "ECC82" not in relatives(device("12BH7A"))
    assert "6X4" in relatives(device("12X4"))
