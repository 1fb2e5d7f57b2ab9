from buzzout.bench.folder import begin
from buzzout.bench.guide import glance, looks, told
from buzzout.bench.sheet import sheets
from buzzout.bench.state import read_job
from buzzout.language import load

HALL = "examples/hall-amplifier/hall-amplifier.reference.buzz"
STAGE = "examples/valve-stage/valve-stage.reference.buzz"


def guide(tmp_path, text):
    folder = begin(load(STAGE), tmp_path / "job").folder
    folder.chassis.write_text(folder.chassis.read_text() + text)
    return looks(load(folder.chassis).sound())


def test_a_new_job_has_everything_to_visit(tmp_path):
    found = guide(tmp_path, "")
    assert {look.place for look in found} == {"SK1", "V1", "J1", "J2"}
    assert found[0].place == "V1"  # nine pins and a valve nobody has read


def test_the_far_end_of_a_lead_seen_once_comes_first(tmp_path):
    text = "strip TS1 3 tags\nat TS1.1\n  wire red to TS1.2\n  resistor 1k to TS1.2\n"
    found = guide(tmp_path, text)
    task = next(look for look in found if look.place == "TS1").tasks[0]
    assert (str(task.at), task.why) == ("TS1.2", "seen from one end only")


def test_a_contradiction_stands_before_everything(tmp_path):
    text = """strip TS1 3 tags
at TS1.1
  resistor 1k to TS1.2
at TS1.2
  resistor 10k to TS1.1
"""
    found = guide(tmp_path, text)
    assert found[0].place == "TS1"
    assert found[0].tasks[0].why == "contradiction"
    assert "read as 1k" in "\n".join(told(found))


def test_the_mains_side_and_its_earth_come_before_the_valves(tmp_path):
    folder = begin(load(HALL), tmp_path / "job").folder
    places = [look.place for look in looks(load(folder.chassis).sound())]
    assert set(places[:4]) == {"T1", "M1", "F1", "S1"}


def test_a_point_is_told_once_for_each_reason(tmp_path):
    text = "strip TS1 3 tags\nat TS1.1\n  wire red to TS1.2\n  resistor 1k to TS1.2\n"
    look = next(look for look in guide(tmp_path, text) if look.place == "TS1")
    wire, resistor = (task.span.line for task in look.tasks[:2])
    told = f"red wire of line {wire}; resistor of line {resistor}"
    assert look.reasons == (f"TS1.2: seen from one end only: {told}", "never visited: 3")


def test_unread_and_unseen_are_asked_for(tmp_path):
    text = """strip TS1 3 tags
at TS1.1
  capacitor unread to ?
at TS1.2 nothing
at TS1.3 nothing
"""
    found = guide(tmp_path, text)
    whys = [task.why for look in found if look.place == "TS1" for task in look.tasks]
    assert sorted(whys) == ["an end that nobody saw", "could not be read"]


def test_the_chassis_is_no_place_to_visit(tmp_path):
    found = guide(tmp_path, "strip TS1 2 tags\nat TS1.1\n  resistor 1k to chassis\n")
    assert "chassis" not in {look.place for look in found}


def test_findings_that_wait_for_a_look_are_in_it(job):
    text = job.chassis.read_text(encoding="utf-8")
    text = text.replace("capacitor  22n 400V  to V1.8", "capacitor  unread  to V1.8")
    text = text.replace("capacitor     22n 400V                      to TS1.6",
                        "capacitor     unread                      to TS1.6")  # fmt: skip
    job.chassis.write_text(text, encoding="utf-8")
    read = read_job(job)
    punch = glance(read.drawing, read.chassis)
    tasks = [t for look in looks(read.chassis, punch) for t in look.tasks]
    assert any(t.why.startswith("not verified") and "C2" in t.words for t in tasks)


def test_where_nothing_is_typed_next_to_nothing_is_searched(tmp_path):
    folder = begin(load(HALL), tmp_path / "job").folder
    read = read_job(folder)
    bare = glance(read.drawing, read.chassis).comparison
    assert bare.proof.minimal
    assert bare.proof.steps < 100
    assert not any(f.kind == "not-verified" for f in bare.findings)


def test_nothing_open():
    assert told([]) == [
        "Nothing is open: every point was visited and every lead seen from both ends."
    ]


def test_sheets_have_every_point_and_escape_names(tmp_path):
    folder = begin(load(STAGE), tmp_path / "job").folder
    text = folder.chassis.read_text() + "strip TS1 4 tags\n"
    folder.chassis.write_text(text.replace("One valve stage", "One <b>valve</b> & stage"))
    circuit = load(folder.chassis).sound().circuit
    page = sheets(circuit)
    for part in circuit.parts.values():
        for point in part.points:
            assert f"<td>{point}</td>" in page
    assert "&lt;b&gt;valve&lt;/b&gt; &amp; stage" in page
    assert page.isascii()
    assert "Lethal voltages" in page
    assert page.count("<svg") == 2
    assert "TS___" not in page


def test_there_are_empty_sheets_for_strips_while_none_is_written_down(tmp_path):
    """A drawing knows no strips; they are where most of a chassis is soldered."""
    folder = begin(load(STAGE), tmp_path / "job").folder
    page = sheets(load(folder.chassis).sound().circuit)
    assert page.count("TS___") == 2
    assert page.count("<td>tag 12</td>") == 2
