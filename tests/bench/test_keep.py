"""A power cut at any moment loses nothing: the process is killed before every single step."""

import os
import sys
from pathlib import Path

import pytest

from buzzout.bench.folder import CHASSIS, Refused, begin, keep_state
from buzzout.bench.keep import Changed, add_line, write_new, write_over
from buzzout.language import load

DRAWING = (
    'reference "One stage"\nsocket V1 B9A ECC83\npot P1 500k log\nR1 resistor 1M V1.2 chassis\n'
)
STEPS = ("open", "os.", "tempfile.mkstemp")
needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills a forked process")


def killed_at(number, work):
    """Run `work` in a process of its own that dies before file step `number`; its exit status."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    left = [number]

    def hook(event, _):
        if event.startswith(STEPS):
            left[0] -= 1
            if left[0] < 0:
                os._exit(9)

    try:
        sys.addaudithook(hook)
        work()
    finally:
        os._exit(0)


@pytest.fixture
def drawing(tmp_path):
    path = tmp_path / "desk" / "stage.reference.buzz"
    path.parent.mkdir()
    path.write_text(DRAWING, encoding="utf-8")
    return path


@needs_fork
def test_a_new_job_killed_anywhere_can_be_completed(drawing, tmp_path):
    whole = tmp_path / "whole"
    begin(load(drawing), whole)
    expected = {p.name: p.read_bytes() for p in whole.iterdir() if p.is_file()}
    for step in range(400):
        job = tmp_path / f"job{step}"
        status = killed_at(step, lambda job=job: begin(load(drawing), job))
        for path in job.glob("[!.]*.*") if job.exists() else ():
            assert path.read_bytes() == expected[path.name], f"half a file after step {step}"
        begin(load(drawing), job)
        assert {p.name: p.read_bytes() for p in job.glob("[!.]*.*") if p.is_file()} == expected
        if status == 0:
            break
    assert status == 0
    assert step > 20


@needs_fork
def test_a_file_is_the_old_one_or_the_new_one(tmp_path):
    path = tmp_path / "decisions.txt"
    seen = set()
    for step in range(60):
        path.write_bytes(b"old\n")
        status = killed_at(step, lambda: add_line(path, "accept x"))
        seen.add(path.read_bytes())
        if status == 0:
            break
    assert status == 0
    assert seen == {b"old\n", b"old\naccept x\n"}


@needs_fork
def test_a_page_is_the_old_one_or_the_new_one(tmp_path):
    path = tmp_path / "plan.html"
    seen = set()
    for step in range(60):
        path.write_bytes(b"old")
        status = killed_at(step, lambda: write_over(path, b"new page"))
        seen.add(path.read_bytes())
        if status == 0:
            break
    assert status == 0
    assert seen == {b"old", b"new page"}


def test_write_new_leaves_what_is_there(tmp_path):
    path = tmp_path / "it"
    assert write_new(path, b"mine")
    assert not write_new(path, b"other")
    assert path.read_bytes() == b"mine"
    assert [p.name for p in tmp_path.iterdir()] == ["it"]


def test_write_new_without_hard_links(tmp_path, monkeypatch):
    def no_links(*_):
        raise OSError(95, "not supported")

    monkeypatch.setattr(os, "link", no_links)
    assert write_new(tmp_path / "it", b"mine")
    assert not write_new(tmp_path / "it", b"other")
    assert (tmp_path / "it").read_bytes() == b"mine"


def test_a_failed_write_leaves_no_rubbish(tmp_path, monkeypatch):
    def full(_):
        raise OSError(28, "no space left")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="no space"):
        write_new(tmp_path / "it", b"mine")
    assert list(tmp_path.iterdir()) == []


def test_two_editors(tmp_path, monkeypatch):
    """An editor saves between our reading and our writing: its version stays."""
    path = tmp_path / "decisions.txt"
    path.write_bytes(b"old\n")
    sync = os.fsync

    def saved_meanwhile(handle):
        path.write_bytes(b"typed by hand\n")
        sync(handle)

    monkeypatch.setattr(os, "fsync", saved_meanwhile)
    with pytest.raises(Changed):
        add_line(path, "accept x")
    assert path.read_bytes() == b"typed by hand\n"
    assert [p.name for p in tmp_path.iterdir()] == ["decisions.txt"]


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (b"", b"accept x\n"),
        (b"old\n", b"old\naccept x\n"),
        (b"old", b"old\naccept x\n"),
        (b"old\r\n", b"old\r\naccept x\r\n"),
        (b"one\r\nold", b"one\r\nold\r\naccept x\r\n"),
        (b"\n", b"\naccept x\n"),
        (b"one\r\nold\n", b"one\r\nold\naccept x\n"),
    ],
)
def test_a_line_is_added_with_the_line_ends_of_the_file(tmp_path, before, after):
    path = tmp_path / "decisions.txt"
    path.write_bytes(before)
    add_line(path, "accept x")
    assert path.read_bytes() == after


def test_a_file_that_is_laid_out_anew_and_saved_meanwhile(tmp_path):
    path = tmp_path / "x.found.buzz"
    path.write_bytes(b"typed by hand\n")
    with pytest.raises(Changed):
        write_over(path, b"laid out\n", b"as it was read\n")
    assert path.read_bytes() == b"typed by hand\n"
    write_over(path, b"laid out\n", b"typed by hand\n")
    assert path.read_bytes() == b"laid out\n"
    assert [p.name for p in tmp_path.iterdir()] == ["x.found.buzz"]


@needs_fork
def test_two_commands_at_once_lose_no_line(tmp_path):
    path = tmp_path / "decisions.txt"
    path.write_bytes(b"")
    children = []
    for writer in range(3):
        child = os.fork()
        if not child:
            for number in range(20):
                add_line(path, f"accept {writer}:{number}")
            os._exit(0)
        children.append(child)
    assert [os.waitpid(child, 0)[1] for child in children] == [0, 0, 0]
    wanted = {f"accept {w}:{n}" for w in range(3) for n in range(20)}
    assert sorted(path.read_text().splitlines()) == sorted(wanted)


def test_add_line_mends_a_missing_line_end(tmp_path):
    path = tmp_path / "decisions.txt"
    path.write_bytes(b"old")
    add_line(path, "new")
    assert path.read_bytes() == b"old\nnew\n"


def test_running_twice_keeps_what_was_typed(drawing, tmp_path):
    job = tmp_path / "job"
    begin(load(drawing), job)
    typed = (job / CHASSIS).read_text() + "fitted V1 ECC83\n"
    (job / CHASSIS).write_text(typed)
    again = begin(load(drawing), job)
    assert again.written == ()
    assert (job / CHASSIS).read_text() == typed


def test_another_drawing_is_refused_untouched(drawing, tmp_path):
    job = tmp_path / "job"
    begin(load(drawing), job)
    before = {p: p.read_bytes() for p in job.iterdir() if p.is_file()}
    drawing.write_text(DRAWING.replace("1M", "2M2"), encoding="utf-8")
    with pytest.raises(Refused, match="nothing was touched"):
        begin(load(drawing), job)
    other = drawing.with_name("other.reference.buzz")
    other.write_text(DRAWING, encoding="utf-8")
    with pytest.raises(Refused, match="one drawing"):
        begin(load(other), job)
    assert {p: p.read_bytes() for p in job.iterdir() if p.is_file()} == before


def test_included_files_come_along(drawing, tmp_path):
    (drawing.parent / "parts").mkdir()
    (drawing.parent / "parts" / "supply.buzz").write_text("fuse F1 1A slow\n", encoding="utf-8")
    drawing.write_text(DRAWING + 'include "parts/supply.buzz"\n', encoding="utf-8")
    begin(load(drawing).sound(), tmp_path / "job")
    copied = load(tmp_path / "job" / CHASSIS).sound()
    assert "F1" in copied.circuit.parts


def test_a_drawing_that_includes_from_elsewhere_is_refused(drawing, tmp_path):
    (tmp_path / "supply.buzz").write_text("fuse F1 1A slow\n", encoding="utf-8")
    drawing.write_text(DRAWING + 'include "../supply.buzz"\n', encoding="utf-8")
    with pytest.raises(Refused, match="outside its folder"):
        begin(load(drawing).sound(), tmp_path / "job")
    assert not (tmp_path / "job").exists()


def test_a_drawing_that_lies_in_the_folder_is_used_where_it_is(drawing):
    begun = begin(load(drawing), drawing.parent)
    assert drawing not in begun.written
    assert load(begun.folder.chassis).ok


@pytest.mark.skipif(os.name == "nt", reason="no such names there")
def test_a_name_that_our_language_cannot_say_is_refused(drawing, tmp_path):
    odd = drawing.with_name('the "big" one.buzz')
    odd.write_text(DRAWING, encoding="utf-8")
    with pytest.raises(Refused, match="quotation marks"):
        begin(load(odd), tmp_path / "job")
    assert not (tmp_path / "job").exists()


def test_a_kept_state_is_never_written_over(drawing, tmp_path):
    folder = begin(load(drawing), tmp_path / "job").folder
    kept = keep_state(folder, "as-received")
    assert load(kept).ok
    assert keep_state(folder, "as-received") == kept
    folder.chassis.write_text(folder.chassis.read_text() + "fitted V1 none\n")
    with pytest.raises(Refused, match="kept already"):
        keep_state(folder, "as-received")
    with pytest.raises(Refused, match="no name"):
        keep_state(folder, "../elsewhere")


@pytest.mark.parametrize("name", sorted(Path("examples").rglob("*.reference.buzz")), ids=str)
def test_a_new_chassis_file_is_valid_and_claims_nothing(name, tmp_path):
    folder = begin(load(name), tmp_path).folder
    for path in (folder.chassis, folder.readings):
        loaded = load(path)
        assert not loaded.problems
        assert not loaded.circuit.visited
        assert not loaded.fresh
        assert not loaded.circuit.readings


def test_comments_taken_away_make_sense(drawing, tmp_path):
    """What a person uncomments and completes is read; the heading lines as they stand."""
    folder = begin(load(drawing), tmp_path / "job").folder
    text = folder.chassis.read_text()
    text = text.replace("# at V1", "at V1").replace("# fitted V1", "fitted V1 ECC83")
    text = text.replace("# pot P1", "pot P1 500k log").replace("# strip", "strip")
    folder.chassis.write_text(text)
    loaded = load(folder.chassis).sound()
    assert len(loaded.circuit.visited) == 9
    assert set(loaded.fresh) == {"TS1", "P1"}
