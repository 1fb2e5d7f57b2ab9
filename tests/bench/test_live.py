import json
import os
import signal
import subprocess
import sys
import threading
import urllib.error
import urllib.request

import pytest

from buzzout.bench.live import Live
from buzzout.bench.serve import LOOPBACK, Server, _ours, keep_compared, keep_fresh


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


def test_the_quick_part_comes_before_the_comparison(live):
    seen = []
    inner = live.compare

    def compare(*asked):
        seen.append((live.number, live.view.waiting, live.view.coverage[:1]))
        return inner(*asked)

    live.compare = compare
    live.refresh()
    assert seen == [(1, True, live.view.coverage[:1])]
    assert live.number == 2
    assert not live.view.waiting
    assert "R3" in live.view.as_html()


def test_a_newer_save_stops_the_comparison_and_is_told_at_once(live, job):
    """While the comparison is under way the chassis is saved again: no waiting, no old news."""
    inner, text = live.compare, job.chassis.read_text(encoding="utf-8")
    told = []

    def compare(folder, got, progress):
        if not told:
            told.append(live.number)
            job.chassis.write_text(text.replace("with three", "with many"), encoding="utf-8")
            live.look()
            assert "with many" in live.view.title
            progress("matching", 0.1)
            pytest.fail("the comparison went on")
        return inner(folder, got, progress)

    live.compare = compare
    live.refresh()
    assert live.view.waiting
    assert live.view.state is None
    live.settle()
    assert not live.view.waiting
    assert "with many" in live.view.state.chassis.circuit.title
    assert not live.wait_for_work(0.0)


def test_a_decision_alone_needs_no_comparison(live, job):
    live.refresh()
    one = live.view.state.punch.items[0].finding.id
    job.decisions.write_text(f"restore {one}\n", encoding="utf-8")
    live.compare = None
    live.refresh()
    assert live.view.state.settled.of[one].word == "restore"
    assert "<td>restore</td>" in live.view.as_html()


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
    code = "import sys; from buzzout.cli.job import job; job(['watch', sys.argv[1], '--no-open'])"
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
