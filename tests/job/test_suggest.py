"""A suggested departures file can be loaded, and what it changes ends what was unsafe."""

from pathlib import Path

import pytest
from small_set import SET, changed

from buzzout.job.judge import judged
from buzzout.job.suggest import suggested
from buzzout.language import load
from buzzout.language.departures import depart
from buzzout.language.layout import formatted

EXAMPLES = Path(__file__).parents[2] / "examples"
TWO_CORE = [
    ("cord M1 L brown N blue E green/yellow", "cord M1 L red N black"),
    ("wire M1.E PE1", "# no earth"),
]


@pytest.fixture
def departed(tmp_path):
    """The suggestion for a drawing, and the drawing with it made."""

    def _departed(path):
        drawing = load(path).sound().circuit
        text = suggested(drawing)
        file = tmp_path / "it.departures.buzz"
        file.write_text(text, encoding="utf-8")
        return text, depart(drawing, file)

    return _departed


@pytest.fixture
def written(tmp_path):
    def _written(*swaps):
        path = tmp_path / "drawing.buzz"
        path.write_text(changed(*swaps), encoding="utf-8")
        return path

    return _written


@pytest.mark.parametrize(
    ("swaps", "line"),
    [
        (TWO_CORE, "add wire M1.E PE1"),
        (
            [*TWO_CORE, ("bond PE1", "# no bolt")],
            "add bond PE1",
        ),
        ([("wire M1.E PE1", "# no earth")], "add wire M1.E PE1"),
        (
            [*TWO_CORE, ("wire M1.N T1.0", "wire M1.N T1.0\nC9 capacitor 10n S1.a1 chassis")],
            'remove C9 because "way from the mains to the chassis deleted"',
        ),
        (
            [("wire M1.N T1.0", ("wire M1.N T1.0\nlamp PL2 110V 20mA\nwire PL2.1 S1.a1\n"
              "C9 capacitor 100n 1000V PL2.2 chassis"))],
            "remove C9",
        ),
        ([("fuse F1 500mA slow", "fuse F1 5A slow")], "change F1 to 400mA"),
        (
            [("fuse F1 500mA slow", "# no fuse"), ("wire M1.L F1.1", "wire M1.L S1.a"),
             ("wire F1.2 S1.a", "# no fuse")],
            "add fuse F1 400mA slow",
        ),
        ([("R2 resistor 220k 2W HT1 chassis", "# R2 away")], "add R2 resistor 220k 2W"),
    ],
)  # fmt: skip
def test_the_suggestion_ends_what_was_unsafe(swaps, line, departed, written):
    path = written(*swaps)
    before = {v.kind for v in judged(load(path).circuit).violations}
    text, made = departed(path)
    assert before
    assert line in " ".join(text.split())
    assert judged(made.circuit).violations == ()
    assert all(departure.reason for departure in made.departures)


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*/*.reference.buzz")), ids=lambda p: p.name)
def test_every_example_gets_a_suggestion_that_loads_and_is_laid_out(path, departed):
    text, made = departed(path)
    assert formatted(text) == text
    assert [v for v in judged(made.circuit).violations if v.level in ("danger", "damage")] == []


def test_what_no_departure_mends_is_a_remark(departed, written):
    swaps = [("wire M1.L F1.1", "wire M1.N F1.1"), ("wire M1.N T1.0", "wire M1.L T1.0")]
    text, _ = departed(written(*swaps))
    assert "# fuse in the neutral: F1 stands in the neutral, and the line has none. Move it" in text
    assert "# switch in the neutral" in text


def test_a_capacitor_without_a_name_is_told_by_its_line(departed, written):
    text, _ = departed(written(("wire M1.N T1.0", "wire M1.N T1.0\ncapacitor 10n S1.a1 chassis")))
    assert "# the capacitor on line 17 of the drawing: remove it" in text


@pytest.mark.parametrize(
    ("drawn", "wanted"), [("350V", "400V"), ("450V", "450V"), ("500V", "500V")]
)
def test_ratings_that_stand_the_cold_set(departed, written, drawn, wanted):
    """The set reaches 389 V before its heaters are warm: what is drawn for more is enough."""
    can = "can C30 square 32u {0} triangle 32u {0}"
    text, made = departed(written((can.format("450V"), can.format(drawn))))
    assert {d.text for d in made.departures} == {
        f"change C30.square to 33u {wanted}",
        f"change C30.triangle to 33u {wanted}",
    }
    assert "# Electrolytics of today." in text
    assert "oupling" not in text  # C1 goes to no output valve


def test_a_reservoir_is_never_made_larger_than_the_rectifier_stands(departed, written):
    """An EZ81 stands 50u: 50u is 47u in a shop, and so is 55u."""
    can = "can C30 square {} 450V triangle 32u 450V"
    text, _ = departed(written((can.format("32u"), can.format("50u"))))
    assert "change C30.square   to 47u 450V" in text
    text, _ = departed(written((can.format("32u"), can.format("55u"))))
    assert "change C30.square   to 47u 450V" in text


def test_the_file_name_stands_in_it(circuit):
    assert 'of "odd name.buzz"' in suggested(circuit(SET, "odd name.buzz"))
