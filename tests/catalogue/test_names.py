"""Near misses: likest first, then by name, the same every time."""

from buzzout.catalogue import nearest, plain


def test_spelling_habits_do_not_count():
    assert plain(" 6l6-gc ") == plain("6L6 GC") == "6L6GC"


def test_likest_first_then_by_name():
    assert nearest("EC83", ["ECC83", "EL84", "ECC82", "ECC85"]) == ("ECC83", "ECC82", "ECC85")


def test_the_order_of_the_question_does_not_matter():
    names = ["ECC81", "ECC82", "ECC83", "EF86", "EL84"]
    assert nearest("ECC88", names) == nearest("ECC88", reversed(names))


def test_exchanged_characters_are_the_nearest_miss():
    assert nearest("ECC38", ["ECC32", "ECC33", "ECC35", "ECC83"])[0] == "ECC83"
    assert nearest("ECC83", ["ECC38", "ECC83"]) == ("ECC83", "ECC38")


def test_nothing_near_is_nothing():
    assert nearest("transformer", ["ECC83", "EL84"]) == ()


def test_no_more_than_asked_for():
    assert len(nearest("ECC80", ["ECC81", "ECC82", "ECC83"], most=2)) == 2
