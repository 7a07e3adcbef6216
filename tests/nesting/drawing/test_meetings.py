import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from nesting.drawing.meetings import doubles_back, meetings
from nesting.drawing.spans import Span, distance_to, piece_of, reverse
from tests.nesting.drawing.test_spans import along, slack, spans

REACH = 1e-3


@given(spans(), spans())
def test_a_meeting_is_found_where_fine_chords_meet_and_nowhere_else(one, other):
    gap = along(one).distance(along(other))
    doubt = slack(one) + slack(other)
    found = meetings(one, other, REACH)
    if gap > REACH + doubt:
        assert found == []
    elif gap < REACH - doubt:
        assert found
    assert all(distance_to(one, at) <= REACH and distance_to(other, at) <= REACH for at in found)


@given(spans(), spans())
def test_it_makes_no_difference_which_is_asked_for(one, other):
    gap = along(one).distance(along(other))
    assume(abs(gap - REACH) > slack(one) + slack(other))
    answers = {
        bool(meetings(a, b, REACH))
        for a, b in ((one, other), (other, one), (reverse(one), other), (one, reverse(other)))
    }
    assert len(answers) == 1


CASES = {
    "crossing lines": (Span((0, 0), (10, 10)), Span((0, 10), (10, 0)), [(5, 5)]),
    "an end on a line": (Span((0, 0), (10, 0)), Span((4, 0), (4, 9)), [(4, 0)]),
    "lines apart": (Span((0, 0), (10, 0)), Span((0, 1), (10, 1)), []),
    "lines that would meet further on": (Span((0, 0), (10, 0)), Span((12, -5), (12, 5)), []),
    "a line along another": (Span((0, 0), (10, 0)), Span((4, 0), (20, 0)), [(4, 0), (10, 0)]),
    # Source: unit circle and the line y = 0.6: x = ±0.8.
    "a line through a half circle": (Span((-2, 0.6), (2, 0.6)), Span((1, 0), (-1, 0), 1.0), [(-0.8, 0.6), (0.8, 0.6)]),
    "a tangent": (Span((-2, 1), (2, 1)), Span((1, 0), (-1, 0), 1.0), [(0, 1)]),
    "a line past the open side": (Span((-2, -0.5), (2, -0.5)), Span((1, 0), (-1, 0), 1.0), []),
    # Source: two circles of radius 5 with centres 6 apart cross at x = 3, y = ±4.
    "two half circles": (Span((5, 0), (-5, 0), 1.0), Span((11, 0), (1, 0), 1.0), [(3, 4)]),
    "a circle inside another": (Span((5, 0), (-5, 0), 1.0), Span((1, 0), (-1, 0), 1.0), []),
    "circles that touch from outside": (Span((5, 0), (5, 0.0001), -400.0), Span((15, 0), (5, 0), 1.0), [(5, 0)]),
    "one circle inside another that it touches": (Span((5, 0), (-5, 0), 1.0), Span((5, 0), (3, 0), 1.0), [(5, 0)]),
}


@pytest.mark.parametrize("name", CASES)
def test_it_meets_where_it_should(name):
    one, other, expected = CASES[name]
    found = meetings(one, other, REACH)
    assert bool(found) == bool(expected)
    for at in expected:
        assert min(math.dist(at, place) for place in found) < 0.05


@given(spans(), st.floats(0.05, 0.95))
def test_a_span_that_returns_on_itself_doubles_back(span, share):
    back = reverse(span)
    assert doubles_back(span, back, 1e-6)
    assert doubles_back(span, piece_of(back, 0.0, share), 1e-5)


def test_a_corner_does_not_double_back():
    assert not doubles_back(Span((0, 0), (10, 0)), Span((10, 0), (10, 10)), 1e-6)
    assert not doubles_back(Span((0, 0), (10, 0)), Span((10, 0), (20, 0)), 1e-6)
    assert not doubles_back(Span((0, 0), (10, 0)), Span((10, 0), (0, 1)), 1e-6)
    # Runs on round the same circle.
    assert not doubles_back(Span((1, 0), (-1, 0), 1.0), Span((-1, 0), (1, 0), 1.0), 1e-6)
