"""The rules as data: their shape, their sources, and that each one is used."""

import json
import re
from pathlib import Path

import jsonschema
import pytest
import yaml

from buzzout.catalogue.colours import MAINS
from buzzout.compare import KINDS
from buzzout.job.danger import TRAITS
from buzzout.job.judge import MAINS as MAINS_RULES
from buzzout.job.judge import SUPPLY
from buzzout.job.rulebook import (
    figure,
    fuse_values,
    place_rules,
    questions,
    regions,
    rules,
    violation,
)

FOLDER = Path(__file__).parents[2] / "references" / "rules"
SCHEMA = json.loads((FOLDER / "rules.schema.json").read_text(encoding="utf-8"))
MARGINS = yaml.safe_load((FOLDER / "margins.yaml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", ["mains", "supply"])
def test_the_rules_fulfil_their_schema(name):
    data = yaml.safe_load((FOLDER / f"{name}.yaml").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(SCHEMA).validate(data)


def test_the_schema_refuses_a_rule_without_a_source():
    rule = {"title": "a title", "why": "reasons of some length", "severity": "danger",
            "action": "Do it.", "confirm": "Look."}  # fmt: skip
    with pytest.raises(jsonschema.ValidationError, match="source"):
        jsonschema.Draft202012Validator(SCHEMA).validate({"a": rule})


def test_the_rules_of_places_fulfil_their_schema():
    data = yaml.safe_load((FOLDER / "places.yaml").read_text(encoding="utf-8"))
    schema = json.loads((FOLDER / "places.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(data)
    assert len(place_rules()) == len(data)
    told = schema["additionalProperties"]["properties"]["when"]["properties"]["trait"]["enum"]
    assert sorted(told) == sorted(TRAITS)
    assert {rule.trait for rule in place_rules()} - {""} == set(TRAITS)
    assert {kind for rule in place_rules() for kind in rule.kinds} <= set(KINDS)


def test_the_last_rule_of_places_asks_nothing():
    last = place_rules()[-1]
    assert not (last.kinds | last.at | last.and_at | last.there | last.parts)
    assert not last.trait


def test_every_source_is_a_publication_or_common_practice():
    """A source names a publication, or begins with "common practice" or "from memory"."""
    sources = [r.source for r in (*rules().values(), *place_rules(), *questions())]
    sources += [entry["source"] for entry in MARGINS.values()]
    sheets = yaml.safe_load((FOLDER / "fuses.yaml").read_text(encoding="utf-8"))
    sources += [entry["source"] for entry in sheets.values()]
    named = re.compile(
        r"(IEC|ISO|IEE|DIN|EN) [\dW]|[\w-]+\.(com|org|ru|cn|uk|tech|net)|data sheet|"
        r"\.yaml"
    )
    unnamed = [s for s in sources if "common practice" not in s and "from memory" not in s]
    assert [s for s in unnamed if not named.search(s)] == []


def test_every_rule_has_a_function_and_every_function_a_rule():
    judged = [name for table in (MAINS_RULES, SUPPLY) for ids in table.values() for name in ids]
    assert sorted(judged) == sorted(rules())


def test_a_violation_needs_a_rule_of_the_book():
    with pytest.raises(KeyError):
        violation("no-such-rule", "text")


def test_no_rule_calls_anything_safe():
    told = [f"{r.title} {r.why} {r.action} {r.confirm}" for r in rules().values()]
    told += [q.asks for q in questions()]
    assert [t for t in told if "safe" in t.lower()] == []


def test_what_is_measured_is_measured_unplugged():
    """A confirmation that speaks of an ohmmeter or of buzzing says that the set is unplugged."""
    for rule in rules().values():
        if "ohm" in rule.confirm or "uzz" in rule.confirm or "nsulation" in rule.confirm:
            assert rule.confirm.startswith("Unplugged"), rule.id


@pytest.mark.parametrize("name", sorted(MARGINS))
def test_every_figure_has_a_meaning_and_a_source(name):
    entry = MARGINS[name]
    assert entry["means"]
    assert entry["source"]
    assert entry["unit"]
    if "value" in entry:
        assert figure(name) == float(entry["value"])


def test_fuse_values_rise():
    assert list(fuse_values()) == sorted(set(fuse_values()))


def test_regions_name_tables_that_there_are():
    assert {table for region in regions().values() for table in region.colours} <= set(MAINS)


def test_questions_are_questions():
    whens = {
        "cord", "two-core", "three-core", "fuse", "live-chassis", "reversible", "reservoir",
    }  # fmt: skip
    assert {q.when for q in questions()} <= whens
    assert all("?" in q.asks and q.source for q in questions())
