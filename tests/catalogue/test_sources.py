"""Where the figures come from, counted."""

from __future__ import annotations

from buzzout.catalogue import device_names
from buzzout.catalogue.shelf import device_files
from buzzout.catalogue.sources import GRADES, citation, sources, sources_report


def test_every_source_has_a_citation_and_a_grade():
    for each in sources().values():
        assert each.cite
        assert each.grade in GRADES


def test_every_source_is_used():
    used = set(sources_report().by_source)
    assert set(sources()) - used == set()


def test_the_report_counts_every_figure_once():
    report = sources_report()
    assert report.devices == len(device_names())
    assert sum(report.best.values()) == report.figures
    assert report.best["memory"] == round(report.memory_share * report.figures)
    assert report.two <= report.pins


def test_less_than_one_figure_in_twenty_is_from_memory():
    assert 0 < sources_report().memory_share < 0.05


def test_memory_is_counted_where_it_is_written():
    """A file without the key has no figure from memory: the key is the only way to say so."""
    text = "".join(path.read_text(encoding="utf-8") for path in device_files())
    assert ("from-memory" in text) == bool(sources_report().by_source["from-memory"])


def test_the_report_as_text():
    lines = str(sources_report()).splitlines()
    assert lines[0].startswith(f"{len(device_names())} types, ")
    assert [line.split()[0] for line in lines[1:7]] == list(GRADES)
    assert lines[7].startswith("  from memory alone: ")


def test_a_citation_of_a_key_and_of_plain_words():
    assert citation("philips-ecc82").startswith("Philips data sheet ECC82")
    assert citation("printed on the carton") == "printed on the carton"
