"""The forms of parts at their turns, and whether they fit a kind of sheet."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.geometry.contour import Contour
from nesting.geometry.placing import placed
from nesting.layout import fits
from nesting.layout.fits import form_of, forms_of, is_proper, is_proper_sheet, may_fit, sheets_for, why_none_fits
from nesting.model.part import QUARTER_TURNS, SheetPart
from nesting.model.stock import Sheet
from tests.shop_parts import L_REMNANT, flange, plate, rectangle, square, triangle
from tests.strategies import allowed_turns, sheet_parts

SHEET = Sheet.rectangle("s", 1000.0, 500.0)
REMNANT = Sheet("rest", L_REMNANT, 1, is_remnant=True)
BOW = Contour(((0, 0, 0), (100, 100, 0), (100, 0, 0), (0, 60, 0)))


def turned(part, turn):
    return SheetPart(part.name, placed(part.outer, 0.0, 0.0, turn))


def sizes(forms):
    return [(round(form.width, 6), round(form.height, 6)) for form in forms]


def test_a_form_says_where_the_part_lies_when_it_is_turned():
    # Source: by hand, a rectangle from (10, 20) to (310, 120) turned by 90° runs from (-120, 10) to (-20, 310).
    form = form_of(rectangle("a", 300.0, 100.0, x=10.0, y=20.0), 90.0)
    assert (form.left, form.bottom, form.width, form.height) == (-120.0, 10.0, 100.0, 300.0)


def test_a_mirrored_form_is_mirrored_before_it_is_turned():
    # Source: by hand, mirrored it runs from (-310, 20) to (-10, 120), then turned from (-120, -310) to (-20, -10).
    form = form_of(rectangle("a", 300.0, 100.0, x=10.0, y=20.0), 90.0, mirrored=True)
    assert (form.left, form.bottom, form.width, form.height) == (-120.0, -310.0, 100.0, 300.0)


def test_turns_that_look_alike_give_one_form():
    assert sizes(forms_of(square("a", 100.0), QUARTER_TURNS, mirror=True)) == [(100.0, 100.0)]
    assert sizes(forms_of(rectangle("a", 300.0, 100.0), QUARTER_TURNS, mirror=False)) == [(300, 100), (100, 300)]


def test_only_allowed_turns_give_forms():
    assert sizes(forms_of(rectangle("a", 300.0, 100.0), (90.0, 270.0), mirror=False)) == [(100, 300)]
    assert {form.mirrored for form in forms_of(triangle("t", 50.0, 30.0), (0.0,), mirror=False)} == {False}


@given(sheet_parts("a"), allowed_turns, st.booleans())
def test_every_form_is_one_of_the_part_as_it_may_be_turned(part, turns, mirror):
    for form in forms_of(part, turns, mirror=mirror):
        assert turns == "any" or form.turn in turns
        assert mirror or not form.mirrored
        bounds = placed(part.outer, -form.left, -form.bottom, form.turn, mirrored=form.mirrored).bounds
        assert (bounds.left, bounds.bottom) == pytest.approx((0.0, 0.0), abs=1e-8)
        assert (bounds.right, bounds.top) == pytest.approx((form.width, form.height), abs=1e-8)


@given(st.floats(0.0, 360.0))
def test_free_turning_finds_the_smallest_rectangle_round_a_slanted_part(turn):
    smallest = min(f.width * f.height for f in forms_of(turned(plate("p", 300, 100), turn), "any", mirror=False))
    # The arcs of its corners reach no further than its sides, so the plate's own rectangle is the smallest.
    assert smallest == pytest.approx(300.0 * 100.0, rel=1e-5)


def test_a_part_fits_up_to_the_margin_and_no_further():
    assert may_fit(form_of(rectangle("a", 980.0, 480.0), 0.0), SHEET, 10.0)
    assert not may_fit(form_of(rectangle("a", 980.01, 480.0), 0.0), SHEET, 10.0)
    assert not may_fit(form_of(rectangle("a", 980.0, 480.01), 0.0), SHEET, 10.0)
    assert not may_fit(form_of(rectangle("a", 980.0, 480.0), 90.0), SHEET, 10.0)


def test_sheets_for_a_part_are_those_it_may_fit():
    part, small = rectangle("a", 600.0, 300.0), Sheet.rectangle("small", 500.0, 500.0)

    def names(turns, margin=10.0):
        return [s.name for s in sheets_for(part, forms_of(part, turns, mirror=False), turns, (small, SHEET), margin)]

    assert names(QUARTER_TURNS) == ["s"]
    assert names((90.0,)) == []
    assert names(QUARTER_TURNS, margin=150.0) == []


def test_a_part_with_more_area_than_a_remnant_does_not_fit_it():
    part = rectangle("a", 880.0, 700.0)
    assert sheets_for(part, forms_of(part, QUARTER_TURNS, mirror=False), QUARTER_TURNS, (REMNANT,), 10.0) == []


def test_a_free_part_that_fits_only_between_two_steps_of_the_scan_is_not_turned_away():
    # Source: by hand, 990 x 5 mm at t spans 990 cos t + 5 sin t by 990 sin t + 5 cos t: 888 x 446 mm at 26.5°.
    part = rectangle("a", 990.0, 5.0)
    sheet = Sheet.rectangle("s", 888.3, 446.3)
    forms = forms_of(part, "any", mirror=False)
    assert not any(may_fit(form, sheet, 0.0) for form in forms)
    assert sheets_for(part, forms, "any", (sheet,), 0.0) == [sheet]
    turn = math.radians(26.5)
    assert 990 * math.cos(turn) + 5 * math.sin(turn) < 888.3
    assert 990 * math.sin(turn) + 5 * math.cos(turn) < 446.3


@pytest.mark.parametrize(
    ("outline", "proper"),
    [
        (Contour.rectangle(1000.0, 500.0), True),
        (L_REMNANT, True),
        (Contour.circle(0.0, 0.0, 500.0), True),
        (BOW, False),
        (Contour(Contour.rectangle(1000.0, 500.0).vertices * 2), False),
        (Contour.rectangle(1000.0, 500.0, x=1e9), False),
    ],
    ids=["rectangle", "remnant", "disc", "crosses itself", "runs round twice", "far away"],
)
def test_a_sheet_is_proper_when_its_outline_can_be(outline, proper):
    assert is_proper_sheet(Sheet("s", outline)) is proper


def holed(*holes):
    return SheetPart("p", Contour.rectangle(100.0, 100.0), holes)


@pytest.mark.parametrize(
    ("part", "proper"),
    [
        (flange("f", 160.0, 88.9), True),
        (SheetPart("bow", BOW), False),
        (holed(Contour.circle(50.0, 50.0, 20.0), Contour.circle(50.0, 85.0, 10.0)), True),
        (holed(Contour.circle(200.0, 50.0, 20.0)), False),
        (holed(Contour.circle(100.0, 50.0, 20.0)), False),
        (holed(Contour.circle(40.0, 50.0, 20.0), Contour.circle(60.0, 50.0, 20.0)), False),
        (holed(Contour.circle(50.0, 50.0, 20.0), Contour.circle(50.0, 50.0, 10.0)), False),
    ],
    ids=[
        "flange",
        "crosses itself",
        "holes apart",
        "hole outside",
        "hole over the edge",
        "holes cross",
        "hole in hole",
    ],
)
def test_a_part_is_proper_when_it_is_one_piece_of_metal(part, proper):
    assert is_proper(part) is proper


def test_a_part_whose_arcs_lie_closer_than_their_chords_is_proper():
    # A ring 0.02 mm wide between two arcs of different centre: chords of 0.05 mm height would cross.
    ring = SheetPart("ring", Contour.circle(0.0, 0.0, 500.0), (Contour.circle(0.005, 0.0, 499.98),))
    assert is_proper(ring)


def test_why_nothing_fits_tells_size_from_turns():
    assert why_none_fits(rectangle("a", 480.0, 980.0), (SHEET,), 10.0) == fits.NOT_IN_AN_ALLOWED_TURN
    assert why_none_fits(rectangle("a", 490.0, 990.0), (SHEET,), 10.0) == fits.LARGER_THAN_EVERY_SHEET
