"""Switches: poles, ways and the position that they were found in."""

import pytest

from buzzout.language import load


@pytest.fixture
def switch(write):
    """Load a drawing with one switch."""

    def _switch(rest):
        text = f'reference "x"\nconnector X1 2 pins\nswitch S1 {rest}\nwire X1.1 S1.a\n'
        loaded = load(write(text))
        return loaded.circuit.parts["S1"], [p.message for p in loaded.problems]

    return _switch


@pytest.mark.parametrize(
    ("words", "terminals", "closed"),
    [
        ("on-off", "a a1", ""),
        ("on-off set on", "a a1", "a1"),
        ("2 poles on-off", "a a1 b b1", ""),
        ("2 pole on-off set off", "a a1 b b1", ""),
        ("2 poles on-off set on", "a a1 b b1", "a1 b1"),
        ("2 poles 1 ways set on", "a a1 b b1", "a1 b1"),
        ("1 pole 3 ways set 3", "a a1 a2 a3", "a3"),
        ("2 poles 2 ways set 2", "a a1 a2 b b1 b2", "a2 b2"),
        ("1 pole 2 ways set off", "a a1 a2", ""),
    ],
)
def test_contacts_of_a_switch(switch, words, terminals, closed):
    part, problems = switch(words)
    assert problems == []
    assert " ".join(part.terminals) == terminals
    assert " ".join(e.label for e in part.elements if e.closed) == closed


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ("1 pole 3 ways set 4", "S1 has no position '4'"),
        ("1 pole 2 ways set on", "S1 has no position 'on'"),
        ("2 poles 3 ways set MIC", "S1 has no position 'mic'"),
        ("on-off set on-off", "S1 has no position 'on-off'"),
        ("on", "is S1 an on-off switch, or is this its position?"),
        ("2 poles off", "is S1 an on-off switch, or is this its position?"),
    ],
)
def test_a_position_that_it_does_not_have(switch, words, message):
    assert switch(words)[1] == [message]
