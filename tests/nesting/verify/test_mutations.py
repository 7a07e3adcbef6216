"""Good nests of the real engine with one thing changed in each way that matters: the checker finds every one of them.

The last test judges nests moved about at random with shapely and arithmetic alone, and wants the same verdict.
"""

import math
from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from nesting.geometry.contour import Contour
from nesting.model.nest import BarLayout, BarNest, Piece, Placement, SheetLayout, SheetNest
from nesting.model.part import SheetPart
from nesting.verify.bar_check import check_bars
from nesting.verify.sheet_check import check_sheets
from tests import nest_again
from tests.shop_parts import frame


def parts_of(nest):
    return {demand.part.name: demand.part for demand in nest.job.demands}


def with_layout(nest, index, layout):
    return replace(nest, layouts=(*nest.layouts[:index], layout, *nest.layouts[index + 1 :]))


def row_of(layout):
    return layout.placements if isinstance(layout, SheetLayout) else layout.pieces


def with_row(nest, index, row):
    field = "placements" if isinstance(nest, SheetNest) else "pieces"
    return with_layout(nest, index, replace(nest.layouts[index], **{field: tuple(row)}))


def with_one(nest, index, k, **changes):
    """The nest with one placement or piece changed."""
    row = list(row_of(nest.layouts[index]))
    row[k] = replace(row[k], **changes)
    return with_row(nest, index, row)


def each_piece(nest):
    """(index of the layout, index in its row, placement or piece)"""
    return [(i, k, p) for i, layout in enumerate(nest.layouts) for k, p in enumerate(row_of(layout))]


def with_job(nest, **changes):
    return replace(nest, job=replace(nest.job, **changes))


def with_part(nest, name, part):
    """The nest as if the drawing of one part had been changed after it was laid."""
    demands = tuple(replace(demand, part=part) if demand.part.name == name else demand for demand in nest.job.demands)
    return with_job(nest, demands=demands)


def faults(nest):
    """The codes of the faults, once each is seen to be a sentence that blocks and says where."""
    found = check_sheets(nest) if isinstance(nest, SheetNest) else check_bars(nest)
    known = {*parts_of(nest), *(stock.name for stock in nest.job.stock), *(layout.stock for layout in nest.layouts)}
    known |= {p.part for _, _, p in each_piece(nest)}
    for finding in found:
        assert finding.blocks
        assert finding.message.endswith(".")
        assert "\n" not in finding.message
        assert any(name in finding.message for name in known) or finding.message.startswith(("Sheet ", "Bar "))
        if finding.at is not None:
            assert all(map(math.isfinite, finding.at))
    return {finding.code for finding in found}


def shape(nest, p):
    return nest_again.metal(parts_of(nest)[p.part], p)


# Sheets.


def test_the_nests_pass_before_anything_is_changed(sheet_nest, full_hole_nest, bar_nest):
    for nest in (sheet_nest, full_hole_nest, bar_nest):
        assert faults(nest) == set()
    assert nest_again.sheet_faults(sheet_nest) == nest_again.sheet_faults(full_hole_nest) == []
    assert nest_again.bar_faults(bar_nest) == []


def test_a_piece_moved_onto_another_is_found(sheet_nest):
    for i, k, p in each_piece(sheet_nest):
        row = sheet_nest.layouts[i].placements
        if len(row) < 2:
            continue
        other = row[k - 1]
        # Both then hold this point of the other's metal.
        there = shape(sheet_nest, other).representative_point()
        here = shape(sheet_nest, p).representative_point()
        moved = with_one(sheet_nest, i, k, x=p.x + there.x - here.x, y=p.y + there.y - here.y)
        found = [f for f in check_sheets(moved) if f.code == "overlap"]
        assert any(p.part in f.message and other.part in f.message for f in found)
        assert "overlap" in faults(moved)


@pytest.mark.parametrize("inside", [9.99, 0.0, -0.01, -500.0])
@pytest.mark.parametrize("side", ["left", "bottom", "right", "top"])
def test_a_piece_moved_over_the_margin_or_the_edge_is_found_on_every_side(sheet_nest, side, inside):
    sheets = {sheet.name: sheet.outline.bounds for sheet in sheet_nest.job.stock}
    for i, k, p in each_piece(sheet_nest):
        left, bottom, right, top = shape(sheet_nest, p).bounds
        sheet = sheets[sheet_nest.layouts[i].stock]
        by = {
            "left": (sheet.left + inside - left, 0.0),
            "bottom": (0.0, sheet.bottom + inside - bottom),
            "right": (sheet.right - inside - right, 0.0),
            "top": (0.0, sheet.top - inside - top),
        }[side]
        wanted = "margin-short" if inside > 0.0 else "outside-sheet" if inside < 0.0 else None
        found = faults(with_one(sheet_nest, i, k, x=p.x + by[0], y=p.y + by[1]))
        assert found & ({wanted} if wanted else {"margin-short", "outside-sheet"})


def test_a_piece_laid_twice_is_found_by_place_and_by_count(sheet_nest):
    for i, k, p in each_piece(sheet_nest):
        row = sheet_nest.layouts[i].placements
        assert faults(with_row(sheet_nest, i, (*row[: k + 1], p, *row[k + 1 :]))) == {"overlap", "count-off"}


def test_a_missing_piece_and_a_missing_sheet_are_found(sheet_nest):
    for i, k, p in each_piece(sheet_nest):
        row = sheet_nest.layouts[i].placements
        found = faults(with_row(sheet_nest, i, (*row[:k], *row[k + 1 :])))
        assert found == ({"count-off"} if len(row) > 1 else {"count-off", "nothing-laid"})
        counted = [f.message for f in check_sheets(with_row(sheet_nest, i, (*row[:k], *row[k + 1 :])))]
        assert any(message.startswith(f"{p.part}: ") for message in counted)
    for i in range(len(sheet_nest.layouts)):
        assert faults(replace(sheet_nest, layouts=sheet_nest.layouts[:i] + sheet_nest.layouts[i + 1 :])) == {
            "count-off"
        }


@pytest.mark.parametrize("by", [45.0, 1.0, 0.001])
def test_a_wrong_turn_is_found(sheet_nest, by):
    for i, k, p in each_piece(sheet_nest):
        assert "turn-not-allowed" in faults(with_one(sheet_nest, i, k, turn=p.turn + by))


def test_a_piece_turned_against_the_grain_is_found_where_another_may_be_turned(sheet_nest):
    for i, k, p in each_piece(sheet_nest):
        found = faults(with_one(sheet_nest, i, k, turn=p.turn + 90.0))
        assert ("turn-not-allowed" in found) == (p.part == "panel")


def test_a_mirrored_piece_is_found(sheet_nest):
    for i, k, _ in each_piece(sheet_nest):
        assert "mirror-not-allowed" in faults(with_one(sheet_nest, i, k, mirrored=True))


def test_stock_that_is_unknown_or_too_little_is_found(sheet_nest, bar_nest):
    for nest in (sheet_nest, bar_nest):
        for i, layout in enumerate(nest.layouts):
            assert faults(with_layout(nest, i, replace(layout, stock="out of nowhere"))) == {"unknown-stock"}
            more = with_layout(nest, i, replace(layout, copies=layout.copies + 6))
            assert faults(more) == {"stock-exceeded", "count-off"}
            none = tuple(replace(s, count=0) if s.name == layout.stock else s for s in nest.job.stock)
            assert faults(with_job(nest, stock=none)) == {"stock-exceeded"}
            assert "no-copies" in faults(with_layout(nest, i, replace(layout, copies=0)))


def test_a_piece_under_the_name_of_another_part_is_found(sheet_nest):
    for i, k, p in each_piece(sheet_nest):
        for name in parts_of(sheet_nest):
            if name != p.part:
                assert "count-off" in faults(with_one(sheet_nest, i, k, part=name))
    i, k, _ = each_piece(sheet_nest)[0]
    assert {"unknown-part", "count-off"} == faults(with_one(sheet_nest, i, k, part="ghost"))


def scaled(ring, by):
    return Contour(tuple((by * x, by * y, bulge) for x, y, bulge in ring.vertices))


def test_a_part_that_grew_after_it_was_laid_is_found(sheet_nest):
    for name, part in parts_of(sheet_nest).items():
        large = SheetPart(name, scaled(part.outer, 12.0), tuple(scaled(hole, 12.0) for hole in part.holes))
        assert "outside-sheet" in faults(with_part(sheet_nest, name, large))


def test_other_rules_than_those_it_was_laid_by_are_kept_to(sheet_nest):
    rules = sheet_nest.job.rules
    assert "gap-short" in faults(with_job(sheet_nest, rules=replace(rules, gap=60.0)))
    assert "margin-short" in faults(with_job(sheet_nest, rules=replace(rules, margin=60.0)))
    assert faults(with_job(sheet_nest, rules=replace(rules, turns=(45.0,)))) == {"turn-not-allowed"}


def test_a_hole_that_is_too_small_for_the_piece_inside_is_found(full_hole_nest):
    # Source: by hand, the frame fills its sheet but for the margin, so all squares lie in its window.
    ring = next(p for _, _, p in each_piece(full_hole_nest) if p.part == "frame")
    window = Polygon(shape(full_hole_nest, ring).interiors[0])
    inside = [shape(full_hole_nest, p) for _, _, p in each_piece(full_hole_nest) if p.part == "inside"]
    assert len(inside) == 6
    assert all(window.contains(piece) for piece in inside)
    nearest = min(window.exterior.distance(piece) for piece in inside)
    rail = 40.0 + nearest
    for wider, code in ((rail - 5.0 + 0.01, "gap-short"), (rail + 1.0, "overlap")):
        smaller = frame("frame", 980.0, 480.0, wider)
        assert code in faults(with_part(full_hole_nest, "frame", smaller))
    exact = frame("frame", 980.0, 480.0, rail - 5.0)
    assert faults(with_part(full_hole_nest, "frame", exact)) == set()
    assert "overlap" in faults(with_part(full_hole_nest, "frame", replace(exact, holes=())))


# Bars.


def test_a_bar_piece_that_starts_a_hair_early_is_found(bar_nest):
    length = {name: part.length for name, part in parts_of(bar_nest).items()}
    for i, k, _ in each_piece(bar_nest):
        if k == 0:
            assert faults(with_one(bar_nest, i, k, start=14.99)) == {"lead-end"}
            continue
        before = bar_nest.layouts[i].pieces[k - 1]
        end = before.start + length[before.part]
        assert faults(with_one(bar_nest, i, k, start=end + 3.99)) == {"gap-short"}
        assert faults(with_one(bar_nest, i, k, start=end - 0.01)) == {"overlap"}


def test_a_bar_piece_that_reaches_into_the_dead_end_is_found(bar_nest):
    length = {name: part.length for name, part in parts_of(bar_nest).items()}
    bars = {bar.name: bar.length for bar in bar_nest.job.stock}
    for i, layout in enumerate(bar_nest.layouts):
        k = len(layout.pieces) - 1
        last = layout.pieces[k]
        free_to = bars[layout.stock] - bar_nest.job.rules.dead_end
        assert faults(with_one(bar_nest, i, k, start=free_to - length[last.part])) == set()
        assert faults(with_one(bar_nest, i, k, start=free_to - length[last.part] + 0.01)) == {"dead-end"}
        assert "dead-end" in faults(with_one(bar_nest, i, k, start=bars[layout.stock]))


def test_a_bar_piece_that_is_doubled_missing_or_swapped_is_found(bar_nest):
    for i, k, p in each_piece(bar_nest):
        row = bar_nest.layouts[i].pieces
        assert {"overlap", "count-off"} <= faults(with_row(bar_nest, i, (*row[: k + 1], p, *row[k + 1 :])))
        assert "count-off" in faults(with_row(bar_nest, i, (*row[:k], *row[k + 1 :])))
        if k:
            swapped = (*row[: k - 1], row[k], row[k - 1], *row[k + 1 :])
            assert "out-of-order" in faults(with_row(bar_nest, i, swapped))


def test_a_bar_with_one_piece_too_many_is_found_by_its_sum(bar_nest):
    for i, layout in enumerate(bar_nest.layouts):
        row = layout.pieces
        long = max(parts_of(bar_nest).values(), key=lambda part: part.length)
        end = row[-1].start + parts_of(bar_nest)[row[-1].part].length
        extra = [Piece(long.name, end + 4.0 + n * (long.length + 4.0)) for n in range(5)]
        found = faults(with_row(bar_nest, i, (*row, *extra)))
        assert {"too-long", "dead-end", "count-off"} <= found


def test_a_bar_part_of_another_length_is_found(bar_nest):
    for name, part in parts_of(bar_nest).items():
        followed = any(p.part == name for layout in bar_nest.layouts for p in layout.pieces[:-1])
        found = faults(with_part(bar_nest, name, replace(part, length=part.length + 300.0)))
        assert "overlap" in found if followed else "dead-end" in found
        assert "dead-end" in faults(with_part(bar_nest, name, replace(part, length=9000.0)))


def test_other_bar_rules_than_those_it_was_laid_by_are_kept_to(bar_nest):
    rules = bar_nest.job.rules
    assert "gap-short" in faults(with_job(bar_nest, rules=replace(rules, gap=4.01)))
    assert faults(with_job(bar_nest, rules=replace(rules, lead_end=15.01))) == {"lead-end"}
    assert "dead-end" in faults(with_job(bar_nest, rules=replace(rules, dead_end=5000.0)))
    shorter = tuple(replace(bar, length=bar.length / 2.0) for bar in bar_nest.job.stock)
    assert {"dead-end", "too-long"} <= faults(with_job(bar_nest, stock=shorter))


def test_a_bar_nest_without_bars_and_a_sheet_nest_without_sheets_lack_every_part(sheet_nest, bar_nest):
    for nest in (replace(sheet_nest, layouts=()), replace(bar_nest, layouts=())):
        assert faults(nest) == {"count-off"}
    (finding,) = check_bars(BarNest(bar_nest.job, (BarLayout("bar 0", ()),), bar_nest.unplaced))[:1]
    assert finding.code == "nothing-laid"


# The same verdict as shapely alone.


def room(nest):
    """How much the worst place of the nest keeps over what gap and margin ask for, mm; below 0 is a fault.

    Source: shapely's distance and containment, on chords that leave their arc by less than a micrometre.
    """
    least = math.inf
    sheets = {sheet.name: Polygon(nest_again.points(sheet.outline)) for sheet in nest.job.stock}
    for layout in nest.layouts:
        sheet = sheets[layout.stock]
        shapes = [nest_again.metal(parts_of(nest)[p.part], p, per_turn=700) for p in layout.placements]
        for one in shapes:
            inside = sheet.exterior.distance(one) if sheet.covers(one) else -1.0
            least = min(least, inside - nest.job.rules.margin)
        for one, other in combinations(shapes, 2):
            if one.distance(other) < 100.0:
                least = min(least, one.distance(other) - nest.job.rules.gap)
    return least


@pytest.mark.slow
@given(
    st.lists(
        st.tuples(st.integers(0, 10**6), st.floats(-30.0, 30.0) | st.floats(-0.1, 0.1), st.floats(-30.0, 30.0)),
        min_size=1,
        max_size=3,
    ),
    st.booleans(),
)
@settings(max_examples=25)
def test_pieces_pushed_about_are_judged_as_shapely_alone_judges_them(sheet_nest, pushes, alone):
    pushed = sheet_nest
    for which, dx, dy in pushes:
        pieces = each_piece(pushed)
        i, k, p = pieces[which % len(pieces)]
        pushed = with_one(pushed, i, k, x=p.x + dx, y=p.y + dy)
    if alone:
        # Far fewer pieces, so that many pushes harm nothing.
        few = tuple(replace(layout, placements=layout.placements[::3]) for layout in pushed.layouts)
        pushed = replace(pushed, layouts=few)
    kept = room(pushed)
    if abs(kept) < 0.003:
        return  # within what the checker forgives and the chords differ
    found = faults(pushed) - {"count-off"}
    assert bool(found) == (kept < 0.0), (found, kept)


def test_a_placement_is_the_same_for_both_judges():
    # Source: by hand, (40, 0) mirrored is (-40, 0), turned by 90 degrees (0, -40), shifted (5, -33).
    part = frame("f", 40.0, 20.0, 2.0)
    corners = set(nest_again.metal(part, Placement("f", 5.0, 7.0, 90.0, mirrored=True)).exterior.coords)
    assert any(math.dist(corner, (5.0, -33.0)) < 1e-9 for corner in corners)
