from buzzout.bench.folder import keep_state
from buzzout.bench.record import as_page, as_text, record
from buzzout.bench.state import state


def made(job, decisions=""):
    job.decisions.write_text(decisions, encoding="utf-8")
    return record(state(job))


def test_the_same_files_give_the_same_bytes(job):
    first, again = made(job), made(job)
    for reader in ("owner", "technician"):
        assert as_page(first, reader) == as_page(again, reader)
        assert as_text(first, reader) == as_text(again, reader)


def test_decisions_with_reason_and_name_are_on_both(job, stage):
    wanted = next(i.finding.id for i in stage.punch.open if "R3" in i.finding.parts)
    got = made(job, f'accept {wanted} because "matched to <the> tape" by "A. Miller"\n')
    for reader in ("owner", "technician"):
        page, text = as_page(got, reader), as_text(got, reader)
        assert "matched to &lt;the&gt; tape" in page
        assert "A. Miller" in page
        assert "matched to <the> tape (A. Miller)" in text
        assert "Lethal voltages" in page
        assert "Lethal voltages" in text


def test_what_was_put_right_comes_from_the_comparison_and_not_from_a_tick(job):
    keep_state(job, "as-received")
    assert made(job, "restore value-wrong:R3:TS1.2:TS1.3\n").change.closed == ()
    text = job.chassis.read_text(encoding="utf-8")
    for end in ("TS1.3", "TS1.2"):
        text = text.replace(f"orange silver  to {end}", f"yellow silver  to {end}")
    job.chassis.write_text(text, encoding="utf-8")
    got = made(job)
    assert [i.finding.parts for i in got.change.closed] == [("R3",)]
    assert "What was done\n  wrong value: R3" in as_text(got, "owner")


def test_files_are_named_with_their_hash(job):
    names = [name for name, _ in made(job).provenance]
    assert names == ["valve-stage.reference.buzz", "chassis.found.buzz", "decisions.txt"]


def test_the_page_fetches_nothing(job):
    for reader in ("owner", "technician"):
        page = as_page(made(job), reader)
        assert page.isascii()
        assert "http" not in page
        assert "src=" not in page


def test_what_was_not_checked_is_told(job):
    got = made(job)
    assert got.unchecked
    assert "Not checked" in as_text(got, "owner")
