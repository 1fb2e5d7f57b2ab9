"""The usual departures, written to be read and changed."""

from click.testing import CliRunner

from buzzout.cli import main

DRAWING = """\
reference "Small supply"
mains 230 V 50 Hz
cord M1 L red N black
fuse F1 1A slow
switch S1 on-off
transformer T1
winding T1 primary 0 230 0-230V dcr 30R
winding T1 heaters h1 h2 6.3V 1A
wire M1.L F1.1
wire F1.2 S1.a
wire S1.a1 T1.230
wire M1.N T1.0
C1 capacitor 10n T1.230 chassis
R1 resistor 100R T1.h1 chassis
wire T1.h2 chassis
"""


def test_what_is_suggested_can_be_made(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "it.reference.buzz").write_text(DRAWING, encoding="utf-8")
    run = CliRunner().invoke
    done = run(main, ["suggest", "it.reference.buzz", "it.departures.buzz"])
    assert done.exit_code == 0, done.output
    text = (tmp_path / "it.departures.buzz").read_text(encoding="utf-8")
    assert "remove C1" in text
    assert "cord M1 L brown N blue E green/yellow" in text
    assert run(main, ["check", "it.departures.buzz"]).exit_code == 0


def test_nothing_is_written_over(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "it.reference.buzz").write_text(DRAWING, encoding="utf-8")
    (tmp_path / "mine.buzz").write_text("mine\n", encoding="utf-8")
    done = CliRunner().invoke(main, ["suggest", "it.reference.buzz", "mine.buzz"])
    assert done.exit_code == 2
    assert (tmp_path / "mine.buzz").read_text(encoding="utf-8") == "mine\n"
