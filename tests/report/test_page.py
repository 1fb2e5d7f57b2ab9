"""The page: everything is on it, nothing reaches out, no name becomes markup."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from buzzout.circuit import Part, Quantity
from buzzout.job import PunchList
from buzzout.report.page import page

INPUTS = {"stage.reference.buzz": "0" * 64, "stage.found.buzz": "f" * 64}
VOID = {"meta", "input", "br"}


class Reader(HTMLParser):
    """Tags with their attributes, the visible text, and whether every tag is closed in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] not in ("style", "script"):
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    def ids(self) -> list[str]:
        return [attrs["id"] or "" for _tag, attrs in self.tags if "id" in attrs]


@pytest.fixture(scope="module")
def text(punch: PunchList) -> str:
    return page(punch, INPUTS)


@pytest.fixture(scope="module")
def read(text: str) -> Reader:
    return Reader(text)


def test_verdict_summary_proof_and_cautions_are_on_it(punch: PunchList, read: Reader) -> None:
    for said in (punch.verdict, "Proved: fewer mistakes", "Lethal voltages", "J1", "0" * 64):
        assert said in read.text
    assert read.text.index("Lethal voltages") < read.text.index("What to put right")


def test_every_line_of_the_list_is_on_it_and_in_the_drawing(punch: PunchList, read: Reader) -> None:
    classes = " ".join(attrs.get("class") or "" for tag, attrs in read.tags if tag == "g").split()
    for item in punch.items:
        assert item.finding.text in read.text
        assert f"finding-{item.number}" in read.ids()
        assert f"f{item.number}" in classes


def test_each_line_with_a_place_in_the_drawing_has_a_closeup(text: str, punch: PunchList) -> None:
    closeups = re.findall(r'<details class="closeup">.*?</details>', text, re.DOTALL)
    placed = [i.number for i in punch.everything if f'finding f{i.number}"' in text]
    assert len(closeups) == len(placed) >= len(punch.items)
    for number, closeup in zip(placed, closeups, strict=True):
        assert f'finding f{number}"' in closeup
        assert "Only the surroundings" not in closeup


def test_ids_are_used_once_and_every_reference_finds_its_goal(read: Reader) -> None:
    ids = read.ids()
    assert len(ids) == len(set(ids))
    for _tag, attrs in read.tags:
        goal = (attrs.get("href") or "").removeprefix("#") or attrs.get("aria-labelledby")
        assert not goal or goal in ids


def test_nothing_on_it_reaches_for_the_network(text: str, read: Reader) -> None:
    assert "default-src 'none'" in text
    for _tag, attrs in read.tags:
        assert not {"src", "srcset", "action", "formaction", "xlink:href"} & set(attrs)
        assert (attrs.get("href") or "#").startswith("#")
    assert set(re.findall(r"https?://[^\"' ]+", text)) <= {
        "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"
    }  # fmt: skip
    assert not re.search(r"\b(fetch|XMLHttpRequest|WebSocket|sendBeacon|import)\s*\(", text)


def test_it_is_plain_ascii_and_the_same_each_time(punch: PunchList, text: str) -> None:
    assert text.isascii()
    assert page(punch, INPUTS) == text


def test_controls_have_names(read: Reader) -> None:
    for tag, attrs in read.tags:
        if tag == "input" and "tick" in (attrs.get("class") or ""):
            assert (attrs.get("aria-label") or "").startswith("Done: finding ")
        if tag == "svg":
            assert attrs.get("aria-label") or "aria" not in attrs


EVIL = "\"><script>alert(1)</script><img src=x onerror=alert(2)>'&amp;</style></title>"


def test_whatever_a_file_says_shows_as_text(punch: PunchList) -> None:
    plain = Reader(page(punch, INPUTS))
    comparison = punch.comparison
    told = replace(
        comparison,
        reference=replace(comparison.reference, title=EVIL),
        found=replace(comparison.found, title=EVIL),
    )
    first = punch.items[0]
    evil = replace(first, why=EVIL, confirm=EVIL, finding=replace(
        first.finding, text=EVIL, action=EVIL, parts=(EVIL,), id=EVIL))  # fmt: skip
    worse = replace(punch, verdict=EVIL, items=(evil, *punch.items[1:]), comparison=told)
    read = Reader(page(worse, {EVIL: "0" * 64, "b": "1" * 64}))
    assert sorted({t for t, _ in read.tags}) == sorted({t for t, _ in plain.tags})
    assert [a for _t, a in read.tags if any(name.startswith("on") for name in a)] == [
        {"class": "tools", "id": "tools", "onsubmit": "return false"}
    ]
    assert read.text.count("<script>alert(1)</script>") >= 8


def test_a_part_name_in_the_drawing_cannot_become_markup(punch: PunchList) -> None:
    drawn = punch.comparison.reference
    extra = Part(EVIL, "resistor", ("1", "2"), Quantity(1.0, "ohm", text=EVIL))
    named = drawn.but({**drawn.parts, EVIL: extra})
    read = Reader(page(replace(punch, comparison=replace(punch.comparison, reference=named)), {}))
    assert [tag for tag, _ in read.tags].count("script") == 1
    assert EVIL in " ".join(read.words)


@pytest.mark.parametrize(
    "name", ['a id="b" c', 'a fill="#000000" c', '<g class="node">', "<!-- a -->"]
)
def test_a_name_that_looks_like_what_is_left_out_of_pictures_stays(
    punch: PunchList, name: str
) -> None:
    drawn = punch.comparison.reference
    extra = Part(name, "resistor", ("1", "2"))
    named = drawn.but({**drawn.parts, name: extra})
    text = page(replace(punch, comparison=replace(punch.comparison, reference=named)), {})
    assert name in " ".join(Reader(text).words)


def test_without_findings_the_page_says_so_and_needs_no_cautions(punch: PunchList) -> None:
    none = replace(punch, items=(), rules=(), gate=None, coverage=None)
    read = Reader(page(none, INPUTS))
    assert "Nothing: the chassis as typed in equals the drawing." in read.text
    assert "Before you open" not in read.text


def test_the_page_of_a_small_set_is_small(text: str) -> None:
    assert len(text) < 250_000
