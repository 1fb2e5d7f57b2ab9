"""Files as they come, and the many ways in which there is no file."""

import pytest

from buzzout.language import Unreadable, load, read


def messages(path):
    return [(p.message.replace(path.parent.as_posix(), "."), p.hint) for p in load(path).problems]


def test_missing_file(tmp_path, drawing):
    path = tmp_path / "drawin.buzz"
    told = messages(path)
    assert told == [("there is no file ./drawin.buzz", f"did you mean {tmp_path}/drawing.buzz?")]


def test_missing_folder(tmp_path):
    path = tmp_path / "no" / "such.buzz"
    assert messages(path)[0][1].startswith("there is no folder")


def test_folder(tmp_path):
    assert load(tmp_path).problems[0].message.endswith("is a folder")


@pytest.mark.parametrize("content", [b"", b"\n\n  \n", b"\xef\xbb\xbf"])
def test_empty(tmp_path, content):
    path = tmp_path / "x.buzz"
    path.write_bytes(content)
    assert messages(path) == [
        ("./x.buzz is empty", 'begin with a line such as: reference "Hall amplifier"')
    ]


def test_latin_1_is_told_kindly_with_the_place(tmp_path):
    path = tmp_path / "x.buzz"
    path.write_bytes('reference "x"\nR1 resistor 10 \xb5 V1.3\n'.encode("latin-1"))
    problem = load(path).problems[0]
    assert problem.message == "this is not UTF-8: byte 0xB5, which is 'µ' in Latin-1"
    assert (problem.span.line, problem.span.column) == (2, 16)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ('reference "x"'.encode("utf-16"), "UTF-16"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00", "a binary format"),
    ],
)
def test_other_formats(tmp_path, content, told):
    path = tmp_path / "x.buzz"
    path.write_bytes(content)
    assert told in load(path).problems[0].message


def test_read_raises_with_every_problem(write):
    path = write('reference "x"\nsockt V1 B9A\nR1 resistor lk V9.1 chassis\n')
    with pytest.raises(Unreadable) as caught:
        read(path)
    assert len(caught.value.problems) == 3
    assert "did you mean 'socket'?" in str(caught.value)


def test_wrong_kind_of_file(drawing):
    problem = load(drawing, wanted="found").problems[0]
    assert problem.message == "this is a reference (a drawing), expected a found file (a chassis)"


def test_include_loop_over_two_files(write):
    write('include "a.buzz"\n', "b.buzz")
    path = write('reference "x"\ninclude "b.buzz"\n', "a.buzz")
    told = [p.message for p in load(path).problems]
    assert told == ["this file includes itself in the end: a.buzz -> b.buzz -> a.buzz"]
