"""The centring check of a bar: what is kept, what is refused, what is said of it, and taking it back."""

import uuid

import pytest

from shopfloor.base.errors import BadInput, NotYourRole, Refused, WrongState
from shopfloor.floor.centring import centring_of, check_centring, measured_at, measures_of
from shopfloor.floor.mark import mark_cut
from shopfloor.floor.models import FloorEvent, LoadState
from shopfloor.floor.pull import pull, put_back
from shopfloor.floor.undo import last_mark, undo
from tests.factories.stock import TubeSectionFactory
from tests.ledger import assert_all_agrees

pytestmark = pytest.mark.django_db


@pytest.fixture
def bar(shop, people):
    """A bar of square 40 x 40 x 3 to EN 10219-2, in the operator's hands."""
    section = TubeSectionFactory(standard="EN 10219-2")
    shop.bars(on_hand=2, section=section)
    return pull(shop.loads(shop.tube_line(3, mitre=45.0))[0], by=people.operator)


def said(load):
    event = centring_of(load)
    return {each.measure.name: (each.value_mm, each.remark) for each in measured_at(event, load)}


def test_the_check_is_kept_with_who_made_it_and_what_was_measured(bar, people):
    check_centring(bar, by=people.operator, measured={"height_mm": "40,2", "width_mm": "", "twist_mm": "1.5"})
    event = centring_of(bar)
    assert (event.actor, event.detail) == (people.operator, {"height_mm": 40.2, "twist_mm": 1.5})
    bar.refresh_from_db()
    assert bar.state == LoadState.AT_MACHINE
    assert said(bar) == {"height_mm": (40.2, "0.2 mm more than drawn"), "twist_mm": (1.5, "")}
    assert_all_agrees()


def test_nothing_needs_to_be_measured(bar, people):
    check_centring(bar, by=people.operator)
    assert centring_of(bar).detail == {}
    assert said(bar) == {}


# Source: EN 10219-2 allows 0.5 mm on sides of 40 mm, and 2 + 0.5 x 6 = 5 mm of twist on 6 m.
@pytest.mark.parametrize(
    ("measured", "words"),
    [
        ({"height_mm": "40.5"}, "0.5 mm more than drawn"),
        (
            {"height_mm": "39.3"},
            "0.7 mm less than drawn, more than the 0.5 mm that EN 10219-2 allows: ask before you cut",
        ),
        ({"width_mm": "40"}, "as drawn"),
        ({"twist_mm": "5"}, ""),
        ({"twist_mm": "5.2"}, "more than the 5.0 mm that EN 10219-2 allows: ask before you cut"),
    ],
)
def test_what_the_standard_does_not_allow_is_said(bar, people, measured, words):
    check_centring(bar, by=people.operator, measured=measured)
    assert [remark for _, remark in said(bar).values()] == [words]


@pytest.mark.parametrize(
    ("measured", "words"),
    [
        ({"height_mm": "fourty"}, "Height: type a number in mm, not “fourty”"),
        ({"height_mm": "NaN"}, "type a number in mm"),
        ({"height_mm": "400"}, "Height: 400 mm is far from 40 mm"),
        ({"width_mm": "-40"}, "is far from 40 mm"),
        ({"twist_mm": "-1"}, "Twist: 0 to 100 mm, not -1"),
        ({"twist_mm": "1e9"}, "Twist: 0 to 100 mm"),
        ({"diameter_mm": "40"}, "diameter_mm is not measured on square 40 x 40 x 3"),
    ],
)
def test_a_measure_that_cannot_be_is_refused_with_its_name(bar, people, measured, words):
    with pytest.raises(BadInput, match=words) as refusal:
        check_centring(bar, by=people.operator, measured=measured)
    assert refusal.value.field == next(iter(measured))
    assert centring_of(bar) is None


def test_a_round_tube_has_a_diameter_alone():
    section = TubeSectionFactory.build(shape="round", height_mm=48, width_mm=48)
    assert [measure.name for measure in measures_of(section)] == ["diameter_mm"]


def test_a_sheet_is_not_centred(load_in_hand, people):
    with pytest.raises(BadInput, match="only bars are centred"):
        check_centring(load_in_hand, by=people.operator)


def test_a_bar_that_waits_or_is_cut_cannot_be_checked(shop, bar, people):
    mark_cut(bar, by=people.operator)
    with pytest.raises(WrongState, match="it is cut"):
        check_centring(bar, by=people.operator)


def test_an_inspector_cannot_check_centring(bar, people):
    with pytest.raises(NotYourRole):
        check_centring(bar, by=people.inspector)


def test_sent_twice_it_counts_once(bar, people):
    key = uuid.uuid4()
    first, again = (check_centring(bar, by=people.operator, key=key, measured={"twist_mm": "1"}) for _ in range(2))
    assert first == again
    assert FloorEvent.objects.filter(verb="check-centring").count() == 1


def test_it_may_be_taken_back_and_made_again(bar, people):
    check_centring(bar, by=people.operator, measured={"height_mm": "39"})
    undo(bar, by=people.operator)
    assert centring_of(bar) is None
    assert last_mark(bar) is None
    check_centring(bar, by=people.operator, measured={"height_mm": "40.1"})
    assert centring_of(bar).detail == {"height_mm": 40.1}
    assert_all_agrees()


def test_after_the_cut_is_taken_back_the_check_still_stands(bar, people):
    check_centring(bar, by=people.operator)
    mark_cut(bar, by=people.operator)
    assert centring_of(bar) is not None
    undo(bar, by=people.operator)
    assert centring_of(bar) is not None
    assert last_mark(bar).verb == "check-centring"


def test_taking_it_back_needs_the_role_that_made_it(bar, people):
    check_centring(bar, by=people.operator)
    with pytest.raises(NotYourRole):
        undo(bar, by=people.inspector)


def test_putting_the_load_back_ends_the_check(bar, people):
    check_centring(bar, by=people.operator)
    put_back(bar, by=people.operator)
    pull(bar, by=people.operator)
    assert centring_of(bar) is None
    with pytest.raises(Refused, match="no mark to take back"):
        undo(bar, by=people.operator)
