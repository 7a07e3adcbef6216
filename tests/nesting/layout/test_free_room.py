"""What is left free round pieces that stay, and an answer on it joined with them again."""

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from nesting import route
from nesting.errors import BadValue
from nesting.geometry.contour import Contour
from nesting.layout.free_room import SMOOTH, job_around, nest_with_fixed
from nesting.model.nest import Demand, Placement, SheetJob, SheetLayout, SheetNest, SheetRules
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet

PLATE = SheetPart("plate", Contour.rectangle(100, 60))
RING = SheetPart("ring", Contour.circle(0, 0, 150), (Contour.circle(0, 0, 120),))
DISC = SheetPart("disc", Contour.circle(0, 0, 30))


def job(*demands, gap=5.0, margin=10.0, count=1, stock=()):
    sheets = stock or (Sheet.rectangle("sheet", 1000, 500, count),)
    return SheetJob(sheets, SheetRules(gap, margin), tuple(Demand(part, n) for part, n in demands))


def areas(around):
    return {sheet.name: sheet.outline.area for sheet in around.job.stock}


def test_a_piece_in_the_corner_leaves_an_l():
    around = job_around(job((PLATE, 2)), [SheetLayout("sheet", (Placement("plate", 10, 10),))])
    # Source: by hand, 980 x 480 inside the margin, less 105 x 65 for plate and gap, whose outer corner is round:
    # (1 - pi / 4) of a square of the gap.
    expected = 980 * 480 - 105 * 65 + (1 - math.pi / 4) * 25
    assert areas(around) == {"sheet, room 1.1": pytest.approx(expected, abs=2 * SMOOTH * 200)}
    assert areas(around)["sheet, room 1.1"] <= expected
    assert [(d.part.name, d.count) for d in around.job.demands] == [("plate", 1)]
    assert around.job.rules.margin == 0


def test_a_piece_in_the_middle_is_slit_open_and_the_hole_of_a_ring_is_a_room_of_its_own():
    around = job_around(job((RING, 1), (DISC, 3)), [SheetLayout("sheet", (Placement("ring", 500, 250),))])
    large, small = areas(around).values()
    # Source: by hand, the sheet inside its margin less a disc of 150 + 5; the hole of 120 less the gap.
    assert large == pytest.approx(980 * 480 - math.pi * 155**2, rel=2e-3)
    assert small == pytest.approx(math.pi * 115**2, rel=5e-3)
    assert set(around.rooms.values()) == {0}


def test_a_room_smaller_than_every_part_that_is_left_is_not_offered():
    around = job_around(job((RING, 1), (PLATE, 3)), [SheetLayout("sheet", (Placement("ring", 500, 250),))])
    assert len(around.rooms) == 2
    large = SheetPart("large", Contour.rectangle(300, 300))
    around = job_around(job((RING, 1), (large, 1)), [SheetLayout("sheet", (Placement("ring", 500, 250),))])
    assert len(around.rooms) == 1


def test_sheets_that_are_not_used_are_drawn_in_by_the_margin_and_counted():
    around = job_around(job((PLATE, 9), count=5), [SheetLayout("sheet", (Placement("plate", 10, 10),), 2)])
    assert [(s.name, s.count) for s in around.job.stock] == [("sheet, room 1.1", 2), ("sheet", 3)]
    assert around.job.stock[1].outline.bounds == Contour.rectangle(980, 480, 10, 10).bounds
    assert around.job.demands[0].count == 7


def test_an_answer_on_repeated_sheets_leaves_the_other_copies_as_they_were():
    whole = job((PLATE, 4), count=2)
    fixed = [SheetLayout("sheet", (Placement("plate", 10, 10),), 2)]
    around = job_around(whole, fixed)
    answer = SheetNest(around.job, (SheetLayout("sheet, room 1.1", (Placement("plate", 300, 300),)),))
    nest = nest_with_fixed(whole, fixed, around, answer)
    assert [(each.copies, len(each.placements)) for each in nest.layouts] == [(1, 1), (1, 2)]
    assert [finding.code for finding in route.check_nest(nest)] == ["count-off"]


def test_pieces_of_a_part_or_on_a_sheet_that_is_not_there_are_refused():
    with pytest.raises(BadValue, match="plate"):
        job_around(job((DISC, 1)), [SheetLayout("sheet", (Placement("plate", 10, 10),))])
    with pytest.raises(BadValue, match="other"):
        job_around(job((PLATE, 1)), [SheetLayout("other", (Placement("plate", 10, 10),))])


@settings(deadline=None, max_examples=40)
@given(
    st.lists(
        st.tuples(st.sampled_from([PLATE, RING, DISC]), st.floats(0, 1000), st.floats(0, 500), st.floats(0, 360)),
        min_size=1,
        max_size=12,
    ),
    st.floats(0.0, 30.0),
    st.floats(0.0, 30.0),
)
def test_every_room_keeps_the_gap_from_what_stays_and_the_margin_from_the_edge(laid, gap, margin):
    """Wherever the pieces lie, and though they overlap or stick out."""
    placements = tuple(Placement(part.name, x, y, turn) for part, x, y, turn in laid)
    whole = job((PLATE, 20), (RING, 20), (DISC, 20), gap=gap, margin=margin)
    around = job_around(whole, [SheetLayout("sheet", placements)])
    # The metal by shapely, which the module does not place with, its circles drawn finely.
    metal = []
    for part, x, y, turn in laid:
        shape = Polygon(part.outer.polygon(0.001), [hole.polygon(0.001) for hole in part.holes])
        metal.append(shapely.affinity.translate(shapely.affinity.rotate(shape, turn, origin=(0, 0)), x, y))
    stays = shapely.union_all(metal)
    inside = shapely.box(0, 0, 1000, 500).buffer(-margin + 1e-6, join_style="mitre")
    for sheet in around.job.stock:
        room = Polygon(sheet.outline.polygon(0.01))
        assert inside.covers(room)
        if sheet.name in around.rooms:
            assert room.distance(stays) >= gap - 1e-3
            assert room.intersection(stays).area <= 1e-6


@pytest.mark.slow
def test_the_rest_is_laid_around_a_ring_by_the_real_engines():
    """A second sheet is there, so that all is placed however little the computer gets done."""
    whole = job((RING, 1), (PLATE, 10), (DISC, 6), count=2)
    fixed = [SheetLayout("sheet", (Placement("ring", 500, 250),))]
    nest = route.lay_out_around(whole, fixed, budget=6.0)
    assert route.check_nest(nest) == ()
    assert Placement("ring", 500, 250) in nest.layouts[0].placements
    assert nest.placed_count == 17
