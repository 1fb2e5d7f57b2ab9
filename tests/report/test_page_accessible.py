"""What a screen reader is told of the page: Chromium's accessibility tree, and keys pressed in it.

The browser is spoken to over its DevTools protocol through two pipes, messages ended by a zero.
"""

from __future__ import annotations

import itertools
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from buzzout.electrics import side_by_side
from buzzout.job import PunchList
from buzzout.report.charts import Charts
from buzzout.report.page import page

BROWSER = next(
    filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), ""
)
QUIET = ("--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-sync",
         "--disable-background-networking", "--disable-component-update")  # fmt: skip

pytestmark = pytest.mark.skipif(
    not BROWSER or os.name == "nt", reason="no browser that is spoken to through pipes"
)

ACTED_ON = {"button", "checkbox", "combobox", "searchbox", "textbox", "link", "DisclosureTriangle"}


class Tab:
    """One tab of a browser."""

    def __init__(self, profile: Path) -> None:
        theirs_in, self._out = os.pipe()
        self._in, theirs_out = os.pipe()
        # the protocol wants its pipes as descriptors 3 and 4
        start = (
            "import fcntl, os, sys; a, b, *run = sys.argv[1:];"
            "a, b = (fcntl.fcntl(int(x), fcntl.F_DUPFD, 10) for x in (a, b));"
            "os.dup2(a, 3); os.dup2(b, 4); os.execv(run[0], run)"
        )
        self._process = subprocess.Popen(
            [sys.executable, "-c", start, str(theirs_in), str(theirs_out), BROWSER, *QUIET,
             "--remote-debugging-pipe", f"--user-data-dir={profile}"],
            pass_fds=(theirs_in, theirs_out), stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(theirs_in)
        os.close(theirs_out)
        self._rest, self._count, self._session = b"", 0, ""
        self.events: list[dict[str, Any]] = []
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        attached = self.call("Target.attachToTarget", targetId=target, flatten=True)
        self._session = attached["sessionId"]

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Send a command and wait for its answer; events that come meanwhile are kept."""
        self._count += 1
        message: dict[str, Any] = {"id": self._count, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._out, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._count:
                assert "error" not in answer, answer
                return dict(answer["result"])
            self.events.append(answer)

    def wait(self, method: str) -> None:
        """Until an event has come."""
        while not any(event.get("method") == method for event in self.events):
            self.events.append(self._next())

    def value(self, expression: str) -> Any:
        """The value of a piece of script."""
        told = self.call("Runtime.evaluate", expression=expression, returnByValue=True)
        return told["result"].get("value")

    def press(self, key: str, code: int, text: str = "") -> None:
        """Press one key and let it go."""
        about = {"key": key, "code": key, "windowsVirtualKeyCode": code}
        down = {**about, "text": text} if text else about
        self.call("Input.dispatchKeyEvent", type="keyDown", **down)
        self.call("Input.dispatchKeyEvent", type="keyUp", **about)

    def tree(self) -> list[dict[str, Any]]:
        """Everything that a screen reader is told: role, name and properties of each thing."""
        nodes = self.call("Accessibility.getFullAXTree")["nodes"]
        return [_plain(node) for node in nodes if not node["ignored"]]

    def close(self) -> None:
        """End the browser."""
        self._session = ""
        self.call("Browser.close")
        self._process.wait(timeout=30)
        os.close(self._in)
        os.close(self._out)

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            more = os.read(self._in, 1 << 16)
            assert more, "the browser is gone"
            self._rest += more
        message, _, self._rest = self._rest.partition(b"\0")
        return dict(json.loads(message))


def _plain(node: dict[str, Any]) -> dict[str, Any]:
    told = {each["name"]: each["value"].get("value") for each in node.get("properties", ())}
    return {
        "role": node["role"].get("value"),
        "name": node.get("name", {}).get("value", ""),
        **{name: value for name, value in told.items() if name in ("level", "focusable")},
    }


@pytest.fixture(scope="module")
def tab(punch: PunchList, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Tab]:
    folder = tmp_path_factory.mktemp("page")
    drawn, found = punch.comparison.reference, punch.comparison.found
    charts = Charts(side_by_side(drawn, found))
    path = folder / "page.html"
    path.write_text(page(punch, {"a.buzz": "0" * 64}, charts))
    tab = Tab(folder / "profile")
    for domain in ("Page", "Runtime", "Log", "Network", "Accessibility"):
        tab.call(f"{domain}.enable")
    tab.call("Page.navigate", url=path.as_uri())
    tab.wait("Page.loadEventFired")
    yield tab
    tab.close()


@pytest.fixture(scope="module")
def tree(tab: Tab) -> list[dict[str, Any]]:
    return tab.tree()


def of(tree: list[dict[str, Any]], *roles: str) -> list[str]:
    return [node["name"] for node in tree if node["role"] in roles]


def test_the_page_has_a_name_and_its_landmarks(tree: list[dict[str, Any]]) -> None:
    assert of(tree, "RootWebArea") == ["Stage, as received: punch list"]
    for landmark in ("banner", "main", "contentinfo"):
        assert len(of(tree, landmark)) == 1, landmark
    regions = of(tree, "region")
    assert regions[:4] == [
        "May power go on?", "Before you open or measure anything", "Where it is",
        "What to put right",
    ]  # fmt: skip
    assert len(set(regions)) == len(regions)


def test_headings_lead_through_the_page_without_a_gap(tree: list[dict[str, Any]]) -> None:
    levels = [node["level"] for node in tree if node["role"] == "heading"]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b <= a + 1 for a, b in itertools.pairwise(levels))


def test_whatever_can_be_acted_on_has_a_name_of_its_own(tree: list[dict[str, Any]]) -> None:
    names = [(node["role"], node["name"]) for node in tree if node["role"] in ACTED_ON]
    assert all(name.strip() for _, name in names)
    assert len(set(names)) == len(names), sorted(n for n in set(names) if names.count(n) > 1)


def test_each_finding_is_a_list_item_with_a_tick_and_a_heading(
    tree: list[dict[str, Any]], punch: PunchList
) -> None:
    ticks = [name for name in of(tree, "checkbox") if name.startswith("Done: finding")]
    assert ticks == [f"Done: finding {item.number}" for item in punch.everything]
    headings = " / ".join(of(tree, "heading"))
    assert all(f"{i.severity} " in headings.lower() for i in punch.everything)


def test_tables_have_a_caption_and_headers(tree: list[dict[str, Any]]) -> None:
    assert of(tree, "table")
    assert all(of(tree, "table"))
    assert {"Pin", "ohms, drawn", "ohms, chassis"} <= set(of(tree, "columnheader"))
    assert all(name.strip() for name in of(tree, "rowheader"))
    assert of(tree, "rowheader")


def test_pictures_are_told_in_words_or_not_at_all(tree: list[dict[str, Any]]) -> None:
    """The drawing is one named thing; none of the words inside it is read out one by one."""
    assert all(name.strip() for name in of(tree, "image", "graphics-document", "graphics-symbol"))
    assert not [n for n in tree if str(n["role"]).startswith("SvgRoot") and not n["name"]]
    assert any("list says the same in words" in name for name in of(tree, "group"))


def test_the_tab_key_goes_once_through_everything_in_reading_order(tab: Tab) -> None:
    tab.value("document.activeElement.blur()")
    wanted = tab.value(
        "[...document.querySelectorAll("
        "'a[href], button, input, select, summary, [tabindex=\"0\"]')]"
        ".filter((e) => e.getClientRects().length && e.tabIndex >= 0).length"
    )
    seen = []
    for _ in range(wanted):
        tab.press("Tab", 9)
        seen.append(
            tab.value(
                "(() => { const e = document.activeElement; window.went = window.went || [];"
                " const before = window.went.at(-1); window.went.push(e);"
                " const after = !before || !!(before.compareDocumentPosition(e) & 4);"
                " const ring = getComputedStyle(e); return [e.tagName, after,"
                " ring.outlineStyle !== 'none' && parseFloat(ring.outlineWidth) >= 2]; })()"
            )
        )
    assert len(seen) == wanted > 20
    assert all(after for _, after, _ in seen), seen
    assert all(ring for _, _, ring in seen), "what has the focus is seen"
    assert seen[0][0] == "A", "the first leads past everything to the list"


def test_a_finding_is_reached_ticked_and_left_by_keys_alone(tab: Tab) -> None:
    tab.value("document.querySelector('.find:not([hidden])').focus()")
    number = tab.value("document.activeElement.dataset.number")
    tab.press("Enter", 13, "\r")
    assert tab.value("document.activeElement.id") == "sheet"
    tab.press("Escape", 27)
    assert tab.value("document.activeElement.id") == f"finding-{number}"
    tab.press("Tab", 9)
    assert tab.value("document.activeElement.id") == f"tick-{number}"
    tab.press(" ", 32, " ")
    assert tab.value("document.activeElement.checked") is True
    assert "not ticked" in tab.value("document.getElementById('tally').textContent")


def test_nothing_went_wrong_and_nothing_left_the_page(tab: Tab) -> None:
    methods = {"Runtime.exceptionThrown", "Log.entryAdded", "Runtime.consoleAPICalled"}
    assert [e for e in tab.events if e.get("method") in methods] == []
    sent = [e["params"]["request"]["url"] for e in tab.events
            if e.get("method") == "Network.requestWillBeSent"]  # fmt: skip
    assert [url for url in sent if not url.startswith("file:")] == []
    assert len(sent) == 1
