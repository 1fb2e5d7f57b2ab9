"""One canonical layout; comments and the user's own spelling survive."""

from hypothesis import given
from hypothesis import strategies as st

from buzzout.language import load
from buzzout.language.layout import formatted

MESSY = """\
found   "x"   # head
of "drawing.buzz"
strip TS1   12 tags


at TS1.3     # by the transformer
resistor bands brown black yellow silver  reads 118k   to TS1.9
    capacitor 22n 400V   to V2.2    # hot
wire green to V1.1
   # a thought
electrolytic 25u  25V + to TS1.9 -
at V1.9   nothing
this is   no statement
note "two  blanks"

"""

NEAT = """\
found "x"  # head
of "drawing.buzz"
strip TS1 12 tags

at TS1.3  # by the transformer
  resistor   bands brown black yellow silver reads 118k  to TS1.9
  capacitor  22n 400V                                    to V2.2  # hot
  wire       green                                       to V1.1
  # a thought
  electrolytic  25u 25V  + to TS1.9 -
at V1.9 nothing
this is   no statement
note "two  blanks"
"""


def test_columns_comments_and_lines_that_cannot_be_read():
    assert formatted(MESSY) == NEAT
    assert formatted(NEAT) == NEAT


def test_layout_keeps_the_circuit(drawing):
    before = load(drawing)
    text = formatted(drawing.read_text(encoding="utf-8"))
    drawing.write_text(text, encoding="utf-8")
    after = load(drawing)
    assert formatted(text) == text
    assert after.circuit.parts == before.circuit.parts
    assert after.circuit.links == before.circuit.links


@given(st.text(alphabet=st.sampled_from('at TS1.3 resistor 1k "#to\n\t+-?,é'), max_size=120))
def test_any_text_settles_and_loses_no_word(text):
    once = formatted(text)
    assert formatted(once) == once
    words = once.replace(",", " ").split()
    for word in text.replace(",", " ").replace("#", " # ").split():
        assert any(word in w for w in [*words, once]) or word == ","


def test_headings_stand_alone():
    text = "at V1.9 nothing\nat TS1.10\n  wire  to V1.1\n"
    assert formatted(text) == text
