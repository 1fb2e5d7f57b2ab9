"""The page in a real browser, where one is installed: clicks, keys, memory, network, print."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from buzzout.electrics import side_by_side, three_charts
from buzzout.job import PunchList
from buzzout.report.charts import Charts
from buzzout.report.page import page

NAMES = ("chromium", "chromium-browser", "google-chrome")
BROWSER = next(filter(None, map(shutil.which, NAMES)), "")
QUIET = ("--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-sync",
         "--disable-background-networking", "--disable-component-update")  # fmt: skip

pytestmark = pytest.mark.skipif(not BROWSER, reason="no browser is installed")

PROBE = """
<script>
const told = { errors: [], requests: 0 };
addEventListener("error", (event) => told.errors.push(event.message));
addEventListener("securitypolicyviolation", (event) => told.errors.push(event.blockedURI));
addEventListener("load", () => {
  const items = () => [...document.querySelectorAll("#items li")];
  const shown = () => items().filter((item) => !item.hidden).map((item) => item.dataset.number);
  const tick = (n) => document.getElementById("tick-" + n);
  const set = (id, value, kind) => {
    const field = document.getElementById(id);
    field.value = value; field.dispatchEvent(new Event(kind));
  };
  const numbers = items().map((item) => item.dataset.number);
  told.kept = numbers.filter((number) => tick(number).checked);
  told.first = shown();
  set("words", "reversed", "input"); told.containing = shown(); set("words", "", "input");
  const box = document.querySelector(".show[value=fault]");
  box.click(); told.withoutFaults = shown(); box.click();
  set("order", "kind", "change"); told.byKind = items().map((item) => item.dataset.kind);
  set("order", "number", "change"); told.again = shown();
  if (!tick(2).checked) tick(2).click();
  document.getElementById("hide-done").click(); told.notDone = shown();
  told.tally = document.getElementById("tally").textContent;
  document.getElementById("hide-done").click();
  const find = document.querySelector(".find:not([hidden])");
  find.click();
  told.found = find.dataset.number;
  told.lit = document.querySelectorAll("#sheet .lit").length;
  told.focus = document.activeElement.id;
  const picture = document.querySelector("#sheet svg");
  told.zoomed = picture.style.width;
  const zero = new KeyboardEvent("keydown", { key: "0", bubbles: true });
  document.getElementById("sheet").dispatchEvent(zero);
  told.whole = picture.style.width;
  const mark = document.querySelector("#sheet .f4");
  mark.dispatchEvent(new MouseEvent("click", { bubbles: true }));
  told.back = document.activeElement.id;
  find.click();
  const escape = new KeyboardEvent("keydown", { key: "Escape", bubbles: true });
  document.getElementById("sheet").dispatchEvent(escape);
  told.escaped = document.activeElement.id;
  document.querySelector("a.to").click();
  told.reason = document.activeElement.id;
  const places = () => [...document.querySelector(".bench").children].map((part) => part.id);
  told.stands = document.getElementById("stands").value;
  told.places = { [told.stands]: places() };
  for (const where of ["above", "below", "beside"]) {
    set("stands", where, "change"); told.places[where] = places();
  }
  document.getElementById("only-off").click();
  told.rows = [...document.querySelectorAll(".chart tbody tr")].map((row) =>
    [row.classList.contains("off"), row.getClientRects().length > 0]);
  const wide = document.documentElement;
  told.overflow = wide.scrollWidth - wide.clientWidth;
  told.requests = performance.getEntriesByType("resource").length;
  document.body.dataset.told = JSON.stringify(told);
});
</script>
"""


def run(*arguments: str) -> str:
    done = subprocess.run(
        [BROWSER, *QUIET, *arguments], capture_output=True, text=True, timeout=120, check=True
    )
    return done.stdout


def probed(path: Path, profile: Path, *more: str) -> dict[str, Any]:
    """What the probe saw on one visit."""
    seen = run(f"--user-data-dir={profile}", *more, "--dump-dom", path.as_uri())
    told = re.search(r'data-told="([^"]*)"', seen)
    assert told, "the script of the page did not get to its end"
    return dict(json.loads(unescape(told[1])))


@pytest.fixture(scope="module")
def html(punch: PunchList, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "page.html"
    drawn, found = punch.comparison.reference, punch.comparison.found
    charts = Charts(side_by_side(drawn, found), three_charts(drawn, found))
    text = page(punch, {"a.buzz": "0" * 64, "b.buzz": "1" * 64}, charts)
    path.write_text(text.replace("<script>", PROBE + "<script>", 1))
    return path


@pytest.fixture(scope="module")
def visits(html: Path, tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, Any]]:
    """Two visits with the same browser, the second at phone width."""
    profile = tmp_path_factory.mktemp("profile")
    return [
        probed(html, profile, "--window-size=1400,900"),
        probed(html, profile, "--window-size=500,900"),
    ]


def test_no_error_no_request_and_no_sideways_scrolling(visits: list[dict[str, Any]]) -> None:
    for told in visits:
        assert told["errors"] == []
        assert told["requests"] == 0
        assert told["overflow"] <= 0


def test_search_choice_and_order(visits: list[dict[str, Any]], punch: PunchList) -> None:
    told = visits[0]
    numbers = [str(item.number) for item in punch.everything]
    assert told["first"] == told["again"] == numbers
    reversed_ = {str(i.number) for i in punch.everything if i.finding.kind == "reversed"}
    assert reversed_ <= set(told["containing"]) < set(numbers)
    assert told["withoutFaults"] == [
        str(i.number) for i in punch.everything if i.severity != "fault"
    ]
    assert told["byKind"] == sorted(told["byKind"])


def test_ticks_are_kept_until_the_next_visit(visits: list[dict[str, Any]]) -> None:
    first, second = visits
    assert (first["kept"], second["kept"]) == ([], ["2"])
    assert "2" not in first["notDone"]
    assert f"{len(first['first']) - 1} not ticked" in first["tally"]


def test_from_a_finding_to_its_place_and_back(visits: list[dict[str, Any]]) -> None:
    for told in visits:
        assert told["lit"] > 0
        assert (told["focus"], told["back"]) == ("sheet", "finding-4")
        assert told["whole"] == "100%"
    assert visits[1]["zoomed"] != "100%", "on a phone the place is shown large enough to be read"


def test_escape_goes_back_to_the_finding_and_a_reason_leads_to_its_line(
    visits: list[dict[str, Any]], punch: PunchList
) -> None:
    assert punch.gate is not None
    for told in visits:
        assert told["escaped"] == f"finding-{told['found']}"
        assert told["reason"] == f"finding-{punch.gate.because[0]}"


def test_the_drawing_stands_where_the_reader_wants_it_also_next_time(
    visits: list[dict[str, Any]],
) -> None:
    assert [told["stands"] for told in visits] == ["above", "beside"]
    for told in visits:
        assert told["places"]["above"] == ["drawing", "list"]
        assert told["places"]["below"] == told["places"]["beside"] == ["list", "drawing"]


def test_only_what_differs_can_be_shown_of_the_charts(visits: list[dict[str, Any]]) -> None:
    for told in visits:
        assert {off for off, _seen in told["rows"]} == {True, False}
        assert all(off == seen for off, seen in told["rows"])


def test_it_prints(html: Path, tmp_path: Path) -> None:
    out = tmp_path / "page.pdf"
    run(f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={out}", html.as_uri())
    assert out.read_bytes().startswith(b"%PDF-")
