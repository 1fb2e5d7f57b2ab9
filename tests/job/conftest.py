"""The small set with lines changed: as a circuit, as broken rules, as a punch list."""

import pytest
from small_set import SET, changed

from buzzout.compare import compare
from buzzout.job import punch_list
from buzzout.job.judge import judged
from buzzout.language import load
from buzzout.language.coverage import coverage


@pytest.fixture
def circuit(tmp_path):
    """Read text as a circuit."""

    def _circuit(text, name="it.buzz"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return load(path).sound().circuit

    return _circuit


@pytest.fixture
def broken(circuit):
    """Ids, ranks and sentences of the rules that the changed set breaks."""

    def _broken(*swaps):
        told = judged(circuit(changed(*swaps)))
        return {v.kind: (v.level, v.text) for v in told.violations}

    return _broken


@pytest.fixture
def punched(tmp_path):
    """The punch list of the set as drawn and the set with lines changed."""

    def _punched(*swaps, drawing=SET, board="", ht=("C30.square", "C30.triangle"), **options):
        (tmp_path / "drawing.buzz").write_text(drawing, encoding="utf-8")
        text = (board or changed(*swaps)).replace("reference ", "found ", 1)
        kept = [
            line for line in text.splitlines()
            if line.split()[0] not in ("mains", "default", "node")
        ]  # fmt: skip
        named = dict(zip(("HT1", "HT2"), ht, strict=True))
        lines = [" ".join(named.get(w, w) for w in line.split(" ")) for line in kept]
        lines += [f"wire V3.3 {ht[0]}"]
        lines.insert(1, 'of "drawing.buzz"')
        (tmp_path / "board.buzz").write_text("\n".join(lines) + "\n", encoding="utf-8")
        drawn = load(tmp_path / "drawing.buzz").sound().circuit
        board = load(tmp_path / "board.buzz", drawn).sound()
        return punch_list(compare(drawn, board.circuit), coverage(board), **options)

    return _punched
