"""Parts in windows: where they come to lie is worked out again with shapely, and none is lost or made up."""

from collections import Counter

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon

from nesting.layout.composites import Filling, pieces_of, plain_pieces, turns_within, within
from nesting.model.nest import Placement, SheetLayout
from tests.shop_parts import frame, rectangle, sheet_job, square

QUARTERS = (0.0, 90.0, 180.0, 270.0)
ANY_TURN = st.floats(0.0, 359.0)
SHIFT = st.floats(-1000.0, 1000.0)


def laid(shape, p):
    if p.mirrored:
        shape = affinity.scale(shape, -1.0, 1.0, origin=(0.0, 0.0))
    return affinity.translate(affinity.rotate(shape, p.turn, origin=(0.0, 0.0)), p.x, p.y)


placements = st.builds(Placement, st.just("a"), SHIFT, SHIFT, ANY_TURN, st.booleans())


@given(host=placements, held=placements)
def test_what_is_held_moves_with_its_host(host, held):
    shape = Polygon([(0.0, 0.0), (70.0, 5.0), (20.0, 40.0)])
    twice, once = laid(laid(shape, held), host), laid(shape, within(host, held))
    assert shapely.equals_exact(twice, once, tolerance=1e-6)


def test_a_part_in_a_part_in_a_part_is_expanded_whole():
    job = sheet_job(
        (frame("large", 400.0, 400.0, 40.0), 2), (frame("mid", 200.0, 200.0, 30.0), 3), (square("s", 50), 9)
    )
    fillings = [
        Filling("large", 0, (Placement("mid", 60.0, 60.0),), 2),
        Filling("mid", 0, (Placement("s", 40.0, 40.0), Placement("s", 100.0, 40.0)), 2),
    ]
    pieces = pieces_of(job, fillings)
    laid_out = [Placement(d.part.name, 1000.0 * i, 0.0) for i, d in enumerate(pieces.job.demands)]
    per_kind = {d.part.name: d.count for d in pieces.job.demands}
    expanded = pieces.expanded([SheetLayout("1000x500", (p,), per_kind[p.part]) for p in laid_out])
    found = Counter()
    for layout in expanded:
        for p in layout.placements:
            found[p.part] += layout.copies
    assert found == {"large": 2, "mid": 3, "s": 9}
    biggest = max(expanded, key=lambda layout: len(layout.placements))
    assert [(p.part, p.x, p.y) for p in biggest.placements[:2]] == [("large", 0.0, 0.0), ("mid", 60.0, 60.0)]
    assert [(p.part, p.x, p.y) for p in biggest.placements[2:]] == [("s", 100.0, 100.0), ("s", 160.0, 100.0)]
    assert all(pieces.part_count(p.part) == len(lay.placements) for p, lay in zip(laid_out, expanded, strict=True))


@given(asked=st.lists(st.tuples(st.integers(0, 9), st.integers(1, 4)), max_size=5), there=st.integers(1, 9))
def test_fillings_that_ask_for_too_much_lose_no_part_and_make_none_up(asked, there):
    job = sheet_job((frame("f", 300.0, 300.0, 30.0), 4), (square("s", 20.0), there))
    fillings = [
        Filling("f", 0, tuple(Placement("s", 40.0 + 30.0 * k, 40.0) for k in range(each)), count)
        for count, each in asked
    ]
    pieces = pieces_of(job, fillings)
    found = Counter()
    for demand in pieces.job.demands:
        name, held = pieces.contents[demand.part.name]
        found[name] += demand.count
        for p in held:
            found[p.part] += demand.count
    assert found == {"f": 4, "s": there}


def test_plain_pieces_are_the_parts():
    job = sheet_job((rectangle("a", 50.0, 30.0), 3), (square("b", 20.0), 1))
    pieces = plain_pieces(job)
    assert [(pieces.contents[d.part.name], d.count) for d in pieces.job.demands] == [(("a", ()), 3), (("b", ()), 1)]


@pytest.mark.parametrize(
    ("host", "held", "mirror", "right"),
    [
        (QUARTERS, QUARTERS, True, set(QUARTERS)),
        ((0.0, 180.0), (0.0, 180.0), True, {0.0, 180.0}),
        ((0.0, 180.0), QUARTERS, False, set(QUARTERS)),
        (QUARTERS, (0.0, 180.0), False, set()),
        ("any", (0.0, 180.0), False, set()),
        ((0.0,), (0.0, 90.0), False, {0.0, 90.0}),
        ((0.0,), (0.0, 90.0), True, {0.0}),
    ],
)
def test_a_held_part_is_turned_rightly_however_its_host_is(host, held, mirror, right):
    assert set(turns_within(host, held, mirror=mirror)) == right


def test_free_turning_parts_may_lie_in_anything():
    assert turns_within((0.0, 180.0), "any", mirror=True) == "any"
