"""The bound of sheet nests: met by jigsaws, held to closed forms, and never above a nest that passes its check."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.geometry.contour import Contour
from nesting.layout.engines.rows import STANDS, lay_rows
from nesting.layout.score import Extents, Score, score_sheets
from nesting.layout.sheet_bound import bound_of_job, is_unbeatable, left_to_win, sheet_bound
from nesting.layout.survey import survey
from nesting.model.nest import Demand, Placement, SheetJob, SheetLayout, SheetNest, SheetRules, Sides, Unplaced
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.route import check_nest
from tests.shop_parts import L_REMNANT, flange, frame, plate, rectangle, sheet_job, square, triangle


def bound_of(job):
    return sheet_bound(survey(job))


def test_equal_squares_that_fill_sheets_meet_the_bound():
    # Source: by hand: 50 squares of 100 mm fill one sheet of 1000 x 500 mm, 130 fill two and 600 mm of a third.
    one = bound_of(sheet_job((square("a", 100.0), 50), gap=0.0, margin=0.0))
    assert (one.count, one.cost) == (1, 500_000.0)
    assert one.last == pytest.approx(1000.0)
    three = bound_of(sheet_job((square("a", 100.0), 130), gap=0.0, margin=0.0))
    assert (three.count, three.cost) == (3, 1_500_000.0)
    assert three.last == pytest.approx(600.0)
    assert three.taken == pytest.approx(1_300_000.0)


def test_gaps_need_room_too():
    # Source: by hand: a square of 90 grown by 5 takes 8100 + 360 x 5 + 25 pi; the sheet, 1000 x 500 without a margin,
    # offers 500000 + 3000 x 5 + 25 pi, which is 51.5 of them; of a second sheet what is left needs length.
    job = sheet_job((square("a", 90.0), 60), gap=10.0, margin=0.0)
    part, room = 9900.0 + 25.0 * math.pi, 515_000.0 + 25.0 * math.pi
    bound = bound_of(job)
    assert bound.count == 2
    assert bound.last == pytest.approx((60.0 * part - room - 5000.0 - 25.0 * math.pi) / 510.0)


def test_round_parts_are_counted_by_their_exact_area():
    job = sheet_job((SheetPart("disc", Contour.circle(0.0, 0.0, 50.0)), 10), gap=0.0, margin=10.0)
    assert bound_of(job).last == pytest.approx(25_000.0 * math.pi / 480.0)


def test_the_margin_is_no_room():
    job = sheet_job((square("a", 100.0), 45), gap=0.0, margin=50.0)
    # Source: by hand: 900 x 400 mm are 36 squares; nine more need 225 mm of the next sheet.
    bound = bound_of(job)
    assert bound.count == 2
    assert bound.last == pytest.approx(225.0)


def test_strips_kept_free_at_the_sides_are_no_room():
    job = sheet_job((square("a", 100.0), 45), gap=0.0, margin=50.0)
    job = replace(job, rules=replace(job.rules, sides=Sides(left=150.0, top=20.0)))
    # Source: by hand: 800 x 400 mm are 32 squares, the top's strip lies within the margin; 13 more need 325 mm.
    bound = bound_of_job(job)
    assert bound.count == 2
    assert bound.last == pytest.approx(325.0)


def test_what_lies_in_windows_needs_no_sheet_of_its_own():
    alone = bound_of(sheet_job((frame("frame", 400.0, 400.0, 40.0), 6), gap=0.0, margin=0.0))
    with_covers = bound_of(
        sheet_job((frame("frame", 400.0, 400.0, 40.0), 6), (square("cover", 250.0), 6), gap=0.0, margin=0.0)
    )
    assert (alone.count, with_covers.count) == (2, 2)
    assert with_covers.last == pytest.approx(alone.last, rel=1e-3)
    # What no window takes does need one.
    longer = sheet_job((frame("frame", 400.0, 400.0, 40.0), 6), (square("cover", 330.0), 6), gap=0.0, margin=0.0)
    assert bound_of(longer).count == 4


def test_a_single_sheet_is_taken_up_by_its_widest_part():
    job = sheet_job((rectangle("long", 400.0, 20.0), 1), turns=(0.0, 180.0))
    assert bound_of(job).last == pytest.approx(400.0)
    freely = bound_of(replace(job, rules=replace(job.rules, turns="any")))
    assert freely.last == pytest.approx(8000.0 / math.hypot(400.0, 20.0))


def test_of_two_sizes_the_cheapest_mix_counts():
    stock = [Sheet.rectangle("large", 1000.0, 500.0), Sheet.rectangle("small", 500.0, 500.0, 1, 200_000.0)]
    bound = bound_of(sheet_job((square("a", 100.0), 60), stock=stock, gap=0.0, margin=0.0))
    assert (bound.count, bound.cost) == (2, 700_000.0)
    assert bound.taken == pytest.approx(200_000.0 + 350_000.0)
    # On the small sheet lie at least ten, which is 200 mm; on the large one at least 35.
    assert bound.last == pytest.approx(200.0)


def test_an_odd_remnant_offers_its_own_area():
    stock = [Sheet("remnant", L_REMNANT, 1, 1.0, is_remnant=True), Sheet.rectangle("new", 1000.0, 500.0)]
    # Source: by hand: the remnant has 900 x 400 + 300 x 400 = 480000 mm2.
    assert bound_of(sheet_job((square("a", 100.0), 48), stock=stock, gap=0.0, margin=0.0)).cost == 1.0
    assert bound_of(sheet_job((square("a", 100.0), 49), stock=stock, gap=0.0, margin=0.0)).cost == 500_000.0
    assert bound_of(sheet_job((square("a", 100.0), 51), stock=stock, gap=0.0, margin=0.0)).cost == 500_001.0


def test_where_the_stock_cannot_hold_all_there_is_no_bound():
    assert (
        bound_of(sheet_job((square("a", 100.0), 51), stock=[Sheet.rectangle("s", 1000.0, 500.0, 1)], gap=0.0)) is None
    )
    assert bound_of(sheet_job((square("a", 100.0), 0))) is None
    assert bound_of(sheet_job((square("a", 100.0), 1), stock=[])) is None


# Jigsaws: sheets cut into parts with the gap between them, some with more parts in a window. The nest that they come
# from is known, so no bound may be above it; with no gap and no window it uses all the room, and the bound is exact.


@st.composite
def cut_up(draw, x, y, width, height, gap, windows):
    """Rectangles (x, y, width, height, rail) that a rectangle was cut into; rail 0 is a part without a window."""
    least = 40.0 + gap
    if max(width, height) < 3.0 * least or draw(st.integers(0, 5)) == 0:
        rail = 15.0
        inner = (width - 2.0 * (rail + gap), height - 2.0 * (rail + gap))
        if not windows or min(inner) < 30.0 or draw(st.booleans()):
            return [(x, y, width, height, 0.0)]
        within = draw(cut_up(x + rail + gap, y + rail + gap, *inner, gap, windows))
        return [(x, y, width, height, rail), *within]
    if width >= height:
        cut = float(draw(st.integers(math.ceil(least), math.floor(width - least))))
        first = draw(cut_up(x, y, cut, height, gap, windows))
        return first + draw(cut_up(x + cut + gap, y, width - cut - gap, height, gap, windows))
    cut = float(draw(st.integers(math.ceil(least), math.floor(height - least))))
    first = draw(cut_up(x, y, width, cut, gap, windows))
    return first + draw(cut_up(x, y + cut + gap, width, height - cut - gap, gap, windows))


@st.composite
def known_nests(draw, windows=True):
    """A nest that keeps all rules, and from which its job was made."""
    gap = draw(st.sampled_from([0.0, 0.0, 3.0, 5.0, 12.0])) if windows else 0.0
    margin = draw(st.sampled_from([0.0, 10.0]))
    kinds = [
        Sheet.rectangle(f"kind {i}", width, height, cost=cost)
        for i, (width, height, cost) in enumerate(
            [(600.0, 400.0, None), (500.0, 300.0, draw(st.sampled_from([None, 40_000.0, 150_000.0])))]
            if windows and draw(st.booleans())
            else [(600.0, 400.0, None)]
        )
    ]
    demands, layouts = [], []
    for number in range(draw(st.integers(1, 3))):
        sheet = draw(st.sampled_from(kinds))
        b = sheet.outline.bounds
        length = b.width - 2.0 * margin
        if number == 0 and draw(st.booleans()):
            length = float(draw(st.integers(100, int(length))))
        placements = []
        for x, y, width, height, rail in draw(cut_up(margin, margin, length, b.height - 2.0 * margin, gap, windows)):
            name = str(len(demands))
            part = frame(name, width, height, rail) if rail else rectangle(name, width, height)
            demands.append(Demand(part, 1))
            placements.append(Placement(name, x, y))
        layouts.append(SheetLayout(sheet.name, tuple(placements)))
    job = SheetJob(tuple(kinds), SheetRules(gap, margin, draw(st.sampled_from(["any", (0.0, 90.0)]))), tuple(demands))
    return SheetNest(job, tuple(layouts))


@given(known_nests())
@settings(max_examples=120, deadline=None)
def test_no_bound_is_above_a_nest_that_passes_its_check(nest):
    assert check_nest(nest) == ()
    score, bound = score_sheets(nest, Extents(nest.job)), bound_of(nest.job)
    assert bound.count <= len(nest.layouts)
    assert bound.cost <= score.cost * (1.0 + 1e-9)
    if score.cost <= bound.cost * (1.0 + 1e-9):
        assert bound.last <= score.rest + 1e-6
    left = left_to_win(replace(nest, bound=bound))
    assert 0.0 <= left < 1.0
    # Behind the last part of the emptiest sheet is what may be kept; that is not counted as used.
    stock = {sheet.name: sheet for sheet in nest.job.stock}
    cost = sum(stock[layout.stock].price for layout in nest.layouts)
    assert bound.taken <= cost * (1.0 - left) * (1.0 + 1e-9)


@given(known_nests(windows=False))
@settings(max_examples=60, deadline=None)
def test_a_jigsaw_without_gaps_meets_its_bound_exactly(nest):
    score, bound = score_sheets(nest, Extents(nest.job)), bound_of(nest.job)
    assert bound.count == len(nest.layouts)
    assert bound.cost == pytest.approx(score.cost)
    assert bound.last == pytest.approx(score.rest, rel=1e-8)
    assert is_unbeatable(survey(nest.job), bound, score)
    assert left_to_win(replace(nest, bound=bound)) == pytest.approx(0.0, abs=1e-8)


@st.composite
def shop_jobs(draw):
    """Jobs of plates, rings, frames, triangles and rectangles on one or two sizes of sheet."""
    kinds = [
        plate("plate", draw(st.integers(80, 250)), draw(st.integers(60, 200))),
        flange("flange", 160.0, draw(st.sampled_from([60.0, 100.0, 120.0]))),
        flange("washer", draw(st.sampled_from([30.0, 50.0])), 12.0, bolts=0),
        frame("frame", draw(st.integers(150, 380)), draw(st.integers(150, 380)), 30.0),
        triangle("corner", draw(st.integers(40, 200)), draw(st.integers(40, 200))),
        rectangle("tile", draw(st.integers(20, 200)), draw(st.integers(20, 200))),
    ]
    chosen = draw(st.lists(st.sampled_from(kinds), min_size=1, max_size=5, unique_by=lambda part: part.name))
    stock = [Sheet.rectangle("large", 1000.0, 500.0)]
    if draw(st.booleans()):
        stock.append(Sheet.rectangle("small", 420.0, 430.0, draw(st.sampled_from([None, 1])), 90_000.0))
    return sheet_job(
        *((part, draw(st.integers(1, 12))) for part in chosen),
        stock=stock,
        gap=draw(st.sampled_from([0.0, 5.0])),
        turns=draw(st.sampled_from(["any", (0.0, 90.0, 180.0, 270.0), (0.0, 180.0)])),
        mirror=draw(st.booleans()),
    )


@given(shop_jobs())
@settings(max_examples=60, deadline=None)
def test_no_bound_is_above_rows(job):
    looked_over = survey(job)
    nests = []
    for stand in STANDS:
        layouts = lay_rows(looked_over.job, looked_over.forms, stand, is_over=lambda: False)
        nests.append(SheetNest(job, layouts))
    bound = sheet_bound(looked_over)
    for nest in nests:
        if nest.placed_count < sum(demand.count for demand in job.demands):
            continue
        assert check_nest(nest) == ()
        score = score_sheets(nest, Extents(job))
        assert bound.cost <= score.cost * (1.0 + 1e-9)
        assert bound.count <= sum(layout.copies for layout in nest.layouts)
        assert score.cost > bound.cost * (1.0 + 1e-9) or bound.last <= score.rest + 1e-6


def test_a_nest_that_lays_less_or_costs_more_can_be_bettered():
    job = sheet_job((square("a", 100.0), 50), gap=0.0, margin=0.0)
    looked_over, bound = survey(job), bound_of(job)
    assert is_unbeatable(looked_over, bound, Score(50, 500_000.0, 1000.0))
    assert not is_unbeatable(looked_over, bound, Score(49, 500_000.0, 1000.0))
    assert not is_unbeatable(looked_over, bound, Score(50, 1_000_000.0, 10.0))
    assert not is_unbeatable(looked_over, bound, Score(50, 500_000.0, 1000.0, scattered=1))
    assert not is_unbeatable(looked_over, bound, None)
    assert not is_unbeatable(looked_over, None, Score(50, 500_000.0, 1000.0))


def test_what_is_left_to_win_is_a_share_of_what_is_used():
    # Source: by hand: ten squares on one sheet, 100 mm of it by the bound; in one row they take all 1000 mm.
    job = sheet_job((square("a", 100.0), 10), stock=[Sheet.rectangle("s", 1000.0, 1000.0)], gap=0.0, margin=0.0)
    row = SheetLayout("s", tuple(Placement("a", 100.0 * k, 0.0) for k in range(10)))
    nest = SheetNest(job, (row,), bound=bound_of(job))
    assert left_to_win(nest) == pytest.approx(0.9)
    column = SheetLayout("s", tuple(Placement("a", 0.0, 100.0 * k) for k in range(10)))
    assert left_to_win(replace(nest, layouts=(column,))) == pytest.approx(0.0)


def test_of_a_nest_that_leaves_parts_out_nothing_is_said():
    job = sheet_job((square("a", 100.0), 2), gap=0.0, margin=0.0)
    nest = SheetNest(job, (SheetLayout("1000x500", (Placement("a", 0.0, 0.0),)),), bound=bound_of(job))
    assert left_to_win(replace(nest, unplaced=(Unplaced("a", 1, "no time"),))) is None
    assert left_to_win(replace(nest, bound=None)) is None
