import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import BadRecord, BadValue
from nesting.records.values import (
    as_list,
    as_object,
    built,
    flag,
    number,
    only_known,
    optional_number,
    optional_whole_number,
    shown,
    text,
    whole_number,
)


@pytest.mark.parametrize("value", [None, "5", True, [5], {}, float("nan"), float("inf"), -float("inf"), 1e300, 10**400])
def test_what_is_no_number_is_refused_at_its_place(value):
    with pytest.raises(BadRecord, match=r"^job\.rules\.gap_mm: a number .*is needed, (not |but it is missing)"):
        number({"gap_mm": value}, "gap_mm", "job.rules")


@pytest.mark.parametrize("value", [None, "5", True, 5.0, 1.5, [5], 10**400])
def test_what_is_no_whole_number_is_refused_at_its_place(value):
    with pytest.raises(
        BadRecord, match=r"^job\.parts\[2\]\.count: a whole number .*is needed, (not |but it is missing)"
    ):
        whole_number({"count": value}, "count", "job.parts[2]")


@pytest.mark.parametrize("value", [None, 5, ["a"], b"a"])
def test_what_is_no_text_is_refused_at_its_place(value):
    with pytest.raises(BadRecord, match=r"^job\.parts\[0\]\.name: a text is needed, (not |but it is missing)"):
        text({"name": value}, "name", "job.parts[0]")


@pytest.mark.parametrize("value", ["a\x00b", "\ud800", "gate \udfff"])
def test_a_letter_that_cannot_be_stored_is_refused_in_words_that_can_be_printed(value):
    with pytest.raises(BadRecord, match=r"job\.name: .* holds a letter that no file or database can store") as caught:
        text({"name": value}, "name", "job")
    str(caught.value).encode()


@pytest.mark.parametrize("value", [None, 0, 1, "true"])
def test_what_is_not_true_or_false_is_refused_at_its_place(value):
    with pytest.raises(BadRecord, match=r"^rules\.mirror: true or false is needed, (not |but it is missing)"):
        flag({"mirror": value}, "mirror", "rules")


def test_what_is_left_out_takes_its_default():
    assert number({}, "gap_mm", "rules", 5.0) == 5.0
    assert text({}, "reason", "unplaced", "") == ""
    assert flag({}, "mirror", "rules") is False
    assert flag({}, "square_ends", "part", default=True) is True
    assert optional_number({}, "cost", "stock") is None
    assert optional_number({"cost": 3}, "cost", "stock") == 3.0
    assert optional_whole_number({"count": None}, "count", "stock") is None
    assert optional_whole_number({"count": 3}, "count", "stock") == 3


def test_objects_and_lists_are_told_apart():
    with pytest.raises(BadRecord, match=r"^job\.rules: an object is needed, not \[\]"):
        as_object([], "job.rules")
    with pytest.raises(BadRecord, match=r"^job\.parts: a list is needed, not 'gusset'"):
        as_list("gusset", "job.parts")


def test_a_key_that_would_be_passed_over_is_named():
    with pytest.raises(BadRecord, match=r"^job\.rules: 'gap' is not known here; known are gap_mm, margin_mm"):
        only_known({"gap_mm": 5, "gap": 3}, ("gap_mm", "margin_mm"), "job.rules")


def test_a_complaint_of_a_noun_gets_the_place():
    def refuse():
        raise BadValue("Bar: the name is empty.")

    with pytest.raises(BadRecord, match=r"^job\.stock\[1\]: Bar: the name is empty\."):
        built("job.stock[1]", refuse)


def test_a_place_that_is_known_already_is_not_named_twice():
    def refuse():
        raise BadRecord("job.stock[1].name: a text is needed, not 5.")

    with pytest.raises(BadRecord, match=r"^job\.stock\[1\]\.name"):
        built("job.stock[1]", refuse)


@given(st.one_of(st.text(), st.integers(), st.integers(10**5000, 10**5001), st.lists(st.floats()), st.none()))
def test_what_is_shown_is_short_and_printable(value):
    words = shown(value)
    assert len(words) <= 60
    words.encode()
