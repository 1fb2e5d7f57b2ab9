import json
import os
import signal
import subprocess
import sys
import threading
import urllib.error
import urllib.request
from dataclasses import replace
from pathlib import Path
from unittest import mock

import pytest

from buzzout.bench.folder import Folder
from buzzout.bench.live import FILES, LIST, WHOLE, Live
from buzzout.bench.serve import LOOPBACK, Server, _ours, keep_compared, keep_fresh
from buzzout.compare import compare
from buzzout.job.gate import REFUSED

STAGE = Path("examples/valve-stage/with-three-mistakes.found.buzz")
AS_DRAWN = (
    STAGE.read_text(encoding="utf-8")
    .replace("brown black orange silver  to TS1.3", "brown black yellow silver  to TS1.3")
    .replace("brown black orange silver  to TS1.2", "brown black yellow silver  to TS1.2")
    .replace("- to TS1.4 +", "+ to TS1.4 -")
    .replace("+ to V1.8 -", "- to V1.8 +")
    .replace("22n 400V  to V1.8", "22n 400V  to V1.6")
    .replace("  capacitor     22n 400V                      to TS1.6\n", "")
    .replace("at V1.6\n", "at V1.6\n  capacitor 22n 400V to TS1.6\n")
)


@pytest.fixture
def powered(tmp_path):
    """The page of a set that can be computed under power, with two resistors of wrong values."""
    drawing = Path("tests/electrics/cases/live_set.buzz").read_text(encoding="utf-8")
    (tmp_path / "set.reference.buzz").write_text(drawing, encoding="utf-8")
    found = drawing.replace("reference ", "found ", 1).replace("\ndefault", "\n#", 1)
    found = found.replace("# The chassis", 'of "set.reference.buzz"\n# The chassis')
    found = found.replace("R3 resistor 150R", "R3 resistor 15R").replace(
        "R5 resistor 470k", "R5 resistor 47k"
    )
    folder = Folder(tmp_path)
    folder.chassis.write_text(found, encoding="utf-8")
    return Live(folder)


@pytest.fixture
def live(job):
    return Live(job)


@pytest.fixture
def server(live):
    made = Server(live)
    thread = threading.Thread(target=made.serve_forever, daemon=True)
    thread.start()
    yield made
    made.shutdown()
    made.server_close()
    thread.join(5)


def get(address, **headers):
    request = urllib.request.Request(address, headers=headers)
    with urllib.request.urlopen(request, timeout=30) as answer:
        return answer.read().decode(), answer.headers


def refused(address, **headers):
    with pytest.raises(urllib.error.HTTPError) as told:
        get(address, **headers)
    told.value.close()
    return told.value.code


def stages(live):
    """What the page shows from here on, in turn."""
    shown, inner = [], live._publish

    def publish(view):
        shown.append(view)
        inner(view)

    live._publish = publish
    return shown


def consequences(view):
    """What each finding does under power, as far as the page has it."""
    return {i.finding.id: i.consequence for i in view.state.punch.items if i.consequence}


def test_the_page_comes_in_steps(powered):
    shown = stages(powered)
    powered.refresh()
    assert [view.stage for view in shown] == [FILES, LIST, LIST, WHOLE]
    assert powered.number == 4
    files, first, early, whole = shown
    assert files.state is None
    assert files.coverage == whole.coverage
    assert "under power is being computed" in early.stands
    lists = [view.state.punch for view in (first, early, whole)]
    names = [sorted(i.finding.id for i in punch.items) for punch in lists]
    assert names[0] == names[1] == names[2]
    assert [len(punch.rules) for punch in lists] == [0, 3, 3]
    assert consequences(early) == {}
    assert len(consequences(whole)) == 2
    assert "R3" in early.as_html()
    assert early.as_html().count("(being computed)") == 2


def test_no_good_answer_before_everything_is_computed(live, job):
    job.chassis.write_text(AS_DRAWN, encoding="utf-8")
    shown = stages(live)
    live.refresh()
    _, first, early, whole = shown
    assert first.state.punch.gate is None
    assert early.state.punch.gate.state != REFUSED
    assert all(view.answer.startswith("Not known yet") for view in (first, early))
    assert whole.answer == whole.state.punch.verdict
    live.refresh()
    assert shown[-1].answer == whole.answer
    for newer in (replace(whole, stage=FILES), replace(whole, mistake="line 3")):
        assert newer.answer.startswith("Not known")


def test_what_was_computed_stands_until_it_is_computed_anew(powered):
    """One of two mistakes is put right and lines are moved: the other keeps what it does."""
    powered.refresh()
    before = consequences(powered.view)
    assert len(before) == 2
    chassis = powered.folder.chassis
    text = chassis.read_text(encoding="utf-8").replace("R5 resistor 47k", "\n\nR5 resistor 470k")
    chassis.write_text(text, encoding="utf-8")
    shown = stages(powered)
    powered.refresh()
    _, first, early, whole = shown
    (kept,) = consequences(early).items()
    assert consequences(first) == dict([kept])
    assert kept in before.items()
    assert kept[0].startswith("value-wrong:R3")
    assert consequences(whole) == dict([kept])
    assert "(as computed before this save)" in early.as_html()
    assert "(as computed before this save)" not in whole.as_html()
    lists = [view.state.punch.everything for view in (first, early, whole)]
    order = [[(item.finding.id, item.severity) for item in each] for each in lists]
    assert order[0] == order[1] == order[2]


def test_with_another_drawing_nothing_is_carried_over(powered):
    powered.refresh()
    drawing = powered.folder.drawings[0]
    text = drawing.read_text(encoding="utf-8")
    drawing.write_text(text.replace("1k 1W", "1k2 1W"), encoding="utf-8")
    shown = stages(powered)
    powered.refresh()
    assert consequences(shown[1]) == consequences(shown[2]) == {}
    assert len(consequences(shown[3])) == 2


def test_a_newer_save_stops_the_comparison_and_is_told_at_once(live, job):
    """While the comparison is under way the chassis is saved again: no waiting, no old news."""
    inner, text = live.compare, job.chassis.read_text(encoding="utf-8")
    told = []

    def compare(folder, got, progress, last):
        if not told:
            told.append(live.number)
            job.chassis.write_text(text.replace("with three", "with many"), encoding="utf-8")
            live.look()
            assert "with many" in live.view.title
            progress("matching", 0.1)
            pytest.fail("the comparison went on")
        return inner(folder, got, progress, last)

    live.compare = compare
    live.refresh()
    assert live.view.stage == FILES
    assert live.view.state is None
    live.settle()
    assert live.view.stage == WHOLE
    assert "with many" in live.view.state.chassis.circuit.title
    assert not live.wait_for_work(0.0)


def test_a_comparison_waits_while_a_save_is_read(live):
    """It would take half of the processor; where the files say what they said it goes on."""
    inner, went_on, waited = live.compare, threading.Event(), []

    def compare(folder, got, progress, last):
        def asks():
            progress("matching", 0.1)
            went_on.set()

        def read(_folder, before):
            threading.Thread(target=asks).start()
            waited.append(not went_on.wait(0.1))
            return before

        with mock.patch("buzzout.bench.live.read_job", read):
            live.look()
        assert went_on.wait(5)
        return inner(folder, got, progress, last)

    live.compare = compare
    live.refresh()
    assert waited == [True]
    assert live.view.stage == WHOLE


def test_a_save_while_it_computes_stops_that_too(live, job):
    """The list is there, the rest is being computed, a decision is saved: no second comparison."""
    live.refresh()
    job.chassis.write_text(AS_DRAWN.replace("22n", "220n"), encoding="utf-8")
    inner, turns = live._settled, []

    def settled(got, now):
        inner(got, now)
        turns.append(now.whole)
        if len(turns) == 1:
            one = now.punch.items[0].finding.id
            job.decisions.write_text(f"restore {one}\n", encoding="utf-8")
            live.look()

    live._settled = settled
    live.refresh()
    assert turns == [False]
    assert live.wait_for_work(0.0)
    with mock.patch("buzzout.bench.state.compare", side_effect=AssertionError):
        live.settle()
    assert turns == [False, False, True]
    assert live.view.state.settled.of


@pytest.mark.parametrize("change", [
    lambda text: text + "# a remark\n\n",
    lambda text: text.replace("at J1.tip\n", "at J1.tip # seen\n"),
    lambda text: text.replace("\n", "\r\n"),
])  # fmt: skip
def test_files_that_say_the_same_are_not_compared_again(live, job, change):
    live.refresh()
    before = live.view.state.punch
    text = job.chassis.read_text(encoding="utf-8")
    job.chassis.write_bytes(change(text).encode())
    assert job.chassis.read_bytes() != text.encode()
    live.compare = mock.Mock(side_effect=live.compare)
    with mock.patch("buzzout.bench.state.compare", side_effect=AssertionError):
        live.refresh()
    assert live.compare.called
    assert live.view.stage == WHOLE
    assert live.view.state.punch.items == before.items


def test_what_stands_behind_a_quoted_sign_is_compared(live, job):
    """The # is part of the note; the lead behind it is not a comment."""
    text = job.chassis.read_text(encoding="utf-8")
    line = "  capacitor     22n 400V                      to TS1.6\n"
    other = "  capacitor     22n 400V note \u201ca # b\u201d to TS1.{}\n"
    job.chassis.write_text(text.replace(line, other.format(6)), encoding="utf-8")
    live.refresh()
    job.chassis.write_text(text.replace(line, other.format(7)), encoding="utf-8")
    with mock.patch("buzzout.bench.state.compare", wraps=compare) as compared:
        live.refresh()
    assert compared.called


def test_a_decision_alone_needs_no_comparison(live, job):
    live.refresh()
    one = live.view.state.punch.items[0].finding.id
    job.decisions.write_text(f"restore {one}\nrestor x:y\n", encoding="utf-8")
    with mock.patch("buzzout.bench.state.compare", side_effect=AssertionError):
        live.refresh()
    assert live.view.state.settled.of[one].word == "restore"
    assert "<td>restore</td>" in live.view.as_html()
    assert "&#39;restor&#39; is no decision" in live.view.as_html()


def test_a_decision_without_a_finding_is_shown(live, job):
    job.decisions.write_text("restore bridge:V9.1:V9.2\n", encoding="utf-8")
    live.refresh()
    assert (
        "line 1: restore bridge:V9.1:V9.2: closed, or called otherwise now" in live.view.as_html()
    )


def test_what_nobody_has_looked_at_is_counted_not_listed(live, job):
    text = job.chassis.read_text(encoding="utf-8")
    head = text[: text.index("at TS1.1")]
    job.chassis.write_text(head + "at V1.6 nothing\n", encoding="utf-8")
    live.refresh()
    page = live.view.as_html()
    assert "R3 (100k resistor) is missing" in page
    assert "R4 (1k5 resistor)" not in page
    assert "lines of the list only seem to miss something" in page


def test_the_drawing_is_read_once(live, job):
    live.refresh()
    drawn = live.view.state.drawn
    job.chassis.write_text(job.chassis.read_text(encoding="utf-8") + "# x\n", encoding="utf-8")
    live.refresh()
    assert live.view.state.drawn is drawn
    job.drawings[0].write_text(
        job.drawings[0].read_text(encoding="utf-8") + "# x\n", encoding="utf-8"
    )
    live.refresh()
    assert live.view.state.drawn is not drawn


def test_a_mistake_is_shown_with_the_last_good_state(live, job):
    live.refresh()
    good = job.chassis.read_text(encoding="utf-8")
    job.chassis.write_text(good + "at V1.77\n", encoding="utf-8")
    live.refresh()
    page = live.view.as_html()
    assert "V1 is a B9A socket: it has no pin 77" in page
    assert "R3" in page
    job.chassis.write_text(good, encoding="utf-8")
    live.refresh()
    assert live.view.mistake == ""


@pytest.mark.parametrize(
    "broken", [b"", b"\xff\xfe\x00", b"found", b'of "no.buzz"\n', b"\x00" * 99]
)
def test_no_input_stops_it(live, job, broken):
    live.refresh()
    job.chassis.write_bytes(broken)
    live.refresh()
    assert live.view.mistake
    assert live.view.state is not None


def test_a_folder_that_goes_away_does_not_stop_it(live, job):
    live.refresh()
    job.chassis.unlink()
    live.refresh()
    assert "there is no" in live.view.mistake


def test_a_mistake_of_ours_is_shown_and_the_page_goes_on(live, job):
    good, live.compare = live.compare, mock.Mock(side_effect=ZeroDivisionError("oh"))
    live.refresh()
    assert "mistake of ours" in live.view.as_html()
    assert "ZeroDivisionError" in live.view.mistake
    assert not live.wait_for_work(0.0)
    live.compare = good
    live.refresh()
    assert live.view.mistake == ""
    assert live.view.stage == WHOLE


def test_a_hostile_note_is_text(live, job):
    text = job.chassis.read_text(encoding="utf-8")
    evil = "<script>alert(1)</script>"
    job.chassis.write_text(text.replace("with three mistakes", evil), encoding="utf-8")
    live.refresh()
    assert evil not in live.view.as_html()
    assert "&lt;script&gt;" in live.view.as_html()


def test_loopback_and_token(server):
    assert server.server_address[0] == LOOPBACK
    page, headers = get(server.address)
    assert "At the bench" in page
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    root = f"http://{server.hosts[0]}"
    assert refused(f"{root}/") == 404
    assert refused(f"{root}/{'x' * 32}/") == 404
    assert refused(f"{server.address}../etc/passwd") == 404
    assert refused(f"{server.address}chassis.found.buzz") == 404


def test_a_foreign_name_is_refused(server):
    """A page elsewhere whose name was made to lead to this machine gets nothing."""
    assert refused(server.address, Host="evil.example") == 403


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE"])
def test_nothing_can_be_sent(server, method):
    request = urllib.request.Request(server.address, data=b"x", method=method)
    with pytest.raises(urllib.error.HTTPError) as told:
        urllib.request.urlopen(request, timeout=10)
    told.value.close()
    assert told.value.code == 501


def test_the_page_is_told_of_a_save(server, live, job):
    stop = threading.Event()
    watchers = [
        threading.Thread(target=work, args=(live, stop), daemon=True)
        for work in (keep_fresh, keep_compared)
    ]
    for watcher in watchers:
        watcher.start()
    number, _ = live.wait(1, 30)
    news = json.loads(get(f"{server.address}now?after=0")[0])
    assert news["number"] >= number
    before = {p: p.read_bytes() for p in job.path.iterdir() if p.is_file()}
    text = job.chassis.read_text(encoding="utf-8")
    while "no pin 77" not in news["html"]:
        job.chassis.write_text(text + "at V1.77\n", encoding="utf-8")
        news = json.loads(get(f"{server.address}now?after={news['number']}")[0])
    stop.set()
    for watcher in watchers:
        watcher.join(10)
    after = {p: p.read_bytes() for p in job.path.iterdir() if p.is_file()}
    assert {p.name for p in after} == {p.name for p in before}


@pytest.mark.skipif(os.name != "posix", reason="sends an interrupt as a terminal does")
def test_the_command_serves_until_it_is_interrupted(job):
    # What a shell runs in the background ignores the interrupt, and so would the command.
    code = (
        "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler);"
        "from buzzout.cli.job import job; job(['watch', sys.argv[1], '--no-open'])"
    )
    with subprocess.Popen(
        [sys.executable, "-u", "-c", code, job.path], stdout=subprocess.PIPE, text=True
    ) as running:
        address = running.stdout.readline().strip()
        assert address.startswith(f"http://{LOOPBACK}:")
        assert "At the bench" in get(address)[0]
        running.send_signal(signal.SIGINT)
        assert running.wait(20) == 0


@pytest.mark.parametrize(("name", "ours"), [
    ("/x/chassis.found.buzz", True), ("/x/decisions.txt", True), ("/x/photo.jpg", False),
    ("/x/.chassis.found.buzz.swp", False), ("/x/.chassis.found.buzz.abc.part", False),
    ("/x/#chassis.found.buzz", False),
])  # fmt: skip
def test_which_files_count(name, ours):
    assert _ours(None, name) is ours
