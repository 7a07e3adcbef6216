import pytest

from nesting.drawing.wording import LONGEST_NAME, called, counted, measure, place, printable, quoted, size


@pytest.mark.parametrize(
    ("at", "text"),
    [((41.24, 7.0), "41.2, 7.0"), ((-0.01, 0.04), "0.0, 0.0"), ((-12.36, 1e6), "-12.4, 1000000.0")],
)
def test_a_place_is_written_to_a_tenth_and_never_as_minus_zero(at, text):
    assert place(at) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        *((123.46, "123.5 mm"), (10.0, "10.0 mm"), (9.87, "9.87 mm"), (0.6, "0.6 mm"), (2.0, "2.0 mm")),
        *((0.012, "0.012 mm"), (0.0104, "0.01 mm"), (0.001, "0.001 mm"), (0.0009, "less than 0.001 mm")),
        (0.0, "less than 0.001 mm"),
    ],
)
def test_a_length_gets_more_digits_the_smaller_it_is(value, text):
    assert measure(value) == text


@pytest.mark.parametrize(
    ("width", "height", "unit", "text"),
    [
        (120.0, 80.04, "mm", "120.0 x 80.0 mm"),
        (0.254, 1.0, "mm", "0.25 x 1.0 mm"),
        (7.992, 3.937, "inch", "7.992 x 3.937 inch"),
        (25.4, 9.99, "inch", "25.4 x 9.990 inch"),
    ],
)
def test_a_size_is_told_in_its_unit(width, height, unit, text):
    assert size(width, height, unit) == text


def test_counts_take_the_right_noun():
    assert [counted(n, "line") for n in (0, 1, 2)] == ["0 lines", "1 line", "2 lines"]
    assert counted(3, "entity", "entities") == "3 entities"


def test_names_are_quoted_and_cut_off_after_the_first_few():
    assert quoted(["DIM"]) == '"DIM"'
    assert quoted(list("abcde")) == '"a", "b", "c", "d", "e"'
    assert quoted(list("abcdefg")) == '"a", "b", "c", "d", "e" and 2 more'
    assert quoted(["a", "b", "c"], most=1) == '"a" and 2 more'


def test_letters_that_cannot_be_shown_or_stored_become_question_marks():
    assert printable("layer \udcea\x00\n\u202e 3 mm, \u2300 8 \u00e4") == "layer ???? 3 mm, \u2300 8 \u00e4"


def test_a_name_of_any_length_is_told_shortly():
    assert called("CUT") == '"CUT"'
    assert called("x" * LONGEST_NAME) == '"' + "x" * LONGEST_NAME + '"'
    assert called("x" * 5000) == '"' + "x" * LONGEST_NAME + '\u2026"'
