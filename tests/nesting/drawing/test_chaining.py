"""Loose lines to rings: what belongs together is found whatever their order and direction."""

import math
import random
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.drawing.chaining import chained
from nesting.drawing.spans import Span, reverse, vertices_of
from nesting.geometry.contour import Contour
from nesting.units import JOIN, JOIN_WIDE, SAME_POINT
from tests.drawings import spans
from tests.strategies import rings


def chain(some, join=JOIN):
    return chained([(span, "0") for span in some], join)


def shuffled(some, seed):
    mixer = random.Random(seed)
    some = [reverse(span) if mixer.random() < 0.5 else span for span in some]
    mixer.shuffle(some)
    return some


def moved(span, x, y):
    return Span((span.start[0] + x, span.start[1] + y), (span.end[0] + x, span.end[1] + y), span.bulge)


def follow_each_other(run):
    return all(a.end == b.start for a, b in pairwise(run))


@given(st.lists(rings(), min_size=1, max_size=4), st.integers(0, 10**6))
def test_rings_come_back_whatever_the_order_and_direction(drawn, seed):
    some = [moved(Span(*span), 500.0 * k, 0.0) for k, ring in enumerate(drawn) for span in spans(ring)]
    chains = chain(shuffled(some, seed))
    assert (chains.runs, chains.branched, chains.branches, chains.loose_ends) == ([], [], [], [])
    assert all(follow_each_other([*ring, ring[0]]) for ring in chains.rings)
    areas = sorted(Contour(vertices_of(ring, closed=True)).area for ring in chains.rings)
    assert areas == pytest.approx(sorted(ring.area for ring in drawn))


@given(rings(), st.integers(0, 10**6), st.integers(0, 7))
def test_an_open_run_is_one_run_with_two_loose_ends(ring, seed, left_out):
    some = [Span(*span) for span in spans(ring)]
    gone = some.pop(left_out % len(some))
    chains = chain(shuffled(some, seed))
    (run,) = chains.runs
    assert follow_each_other(run)
    assert len(run) == len(some)
    assert {end.at for end in chains.loose_ends} == {gone.start, gone.end}
    assert all(end.gap == pytest.approx(math.dist(gone.start, gone.end)) for end in chains.loose_ends)


def test_joined_ends_meet_in_the_middle():
    chains = chain([Span((0, 0), (10, 0)), Span((10.006, 0.0), (5, 8)), Span((5, 8), (0, 0))])
    (ring,) = chains.rings
    corner = min((span.start for span in ring), key=lambda point: math.dist(point, (10, 0)))
    assert corner == pytest.approx((10.003, 0.0))
    assert chains.joined_gaps == [pytest.approx(0.006)]


def test_nothing_is_joined_where_lines_meet_already():
    """A wider tolerance must not make branches: 0.05 from a closed corner a line ends by itself."""
    triangle = [Span((0, 0), (10, 0)), Span((10, 0), (5, 8)), Span((5, 8), (0, 0))]
    chains = chain([*triangle, Span((-0.05, 0), (-20, 0))], JOIN_WIDE)
    assert len(chains.rings) == 1
    assert (chains.branches, chains.joined_gaps) == ([], [])
    assert len(chains.runs) == 1


def test_ends_that_differ_by_rounding_are_one_point_without_joining():
    off = SAME_POINT / 2.0
    chains = chain([Span((0, 0), (10, 0)), Span((10 + off, 0), (5, 8)), Span((5, 8), (0, off))], join=0.0)
    assert len(chains.rings) == 1
    assert chains.joined_gaps == []


@pytest.mark.parametrize("x", [0.0, 1e-4, 123.4567, -987.65])
def test_ends_are_one_point_on_either_side_of_a_cell_border(x):
    """Points are looked up in a grid; one that lies just over a border is found all the same."""
    off = 0.9 * SAME_POINT
    for dx in (-off / 2, off / 2):
        chains = chain([Span((x - dx, 0), (x + 10, 0)), Span((x + 10, 0), (x, 8)), Span((x, 8), (x + dx, 0))], 0.0)
        assert len(chains.rings) == 1


def test_the_closest_ends_are_joined_first():
    a, b, c = Span((0, 0), (-9, 0)), Span((0.004, 0), (9, 0)), Span((0.0, 0.009), (0, 9))
    assert chain([a, b, c]).joined_gaps == [pytest.approx(0.004)]
    assert chain([c, a, b]).joined_gaps == [pytest.approx(0.004)]


def test_a_line_is_not_bent_onto_itself():
    chains = chain([Span((0, 0), (0.008, 0))])
    assert chains.joined_gaps == []
    assert len(chains.loose_ends) == 2


def test_a_figure_of_eight_is_a_branch_of_four_lines():
    chains = chain([Span((0, 0), (9, 5)), Span((9, 5), (9, -5)), Span((9, -5), (0, 0)), Span((0, 0), (-9, 5)),
                    Span((-9, 5), (-9, -5)), Span((-9, -5), (0, 0))])  # fmt: skip
    assert chains.branches == [((0, 0), 4)]
    assert [len(run) for run in chains.branched] == [3, 3]
    assert (chains.rings, chains.loose_ends) == ([], [])


def test_a_loose_end_knows_its_layer():
    chains = chained([(Span((0, 0), (90, 0)), "hinge"), (Span((0, 30), (90, 30)), "gate")], JOIN)
    assert [end.layer for end in chains.loose_ends] == ["hinge", "hinge", "gate", "gate"]
    assert [end.partner for end in chains.loose_ends] == [2, 3, 0, 1]


def test_nothing_makes_nothing():
    chains = chain([])
    assert (chains.rings, chains.runs, chains.branched, chains.loose_ends) == ([], [], [], [])


@given(rings(), st.floats(2e-6, 0.2), st.integers(0, 10**6))
def test_what_is_said_to_be_joinable_is_joined_when_asked(ring, gap, seed):
    some = [Span(*span) for span in spans(ring)]
    first = some[0]
    length = math.dist(first.start, first.end)
    share = gap / length
    some[0] = Span((first.start[0] + share * (first.end[0] - first.start[0]),
                    first.start[1] + share * (first.end[1] - first.start[1])), first.end, first.bulge)  # fmt: skip
    some = shuffled(some, seed)
    narrow = chain(some, 0.0)
    if narrow.loose_ends:
        assert {end.can_be_joined for end in narrow.loose_ends} == {narrow.loose_ends[0].gap <= JOIN_WIDE}
        assert len(chain(some, JOIN_WIDE).rings) == narrow.loose_ends[0].can_be_joined
