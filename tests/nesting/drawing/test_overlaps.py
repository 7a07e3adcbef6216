import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.drawing.blocks import Line
from nesting.drawing.overlaps import overlaps, without_repeats
from nesting.drawing.spans import Span, arc_spans, piece_of, reverse, span_length, spans_of
from nesting.units import JOIN

BOX = spans_of(((0, 0, 0), (60, 0, 0), (60, 40, 0), (0, 40, 0)), closed=True)
QUARTER = math.tan(math.pi / 8)


def loose(*spans, layer="0"):
    return [Line([span], False, layer) for span in spans]


def ring(spans, layer="0"):
    return Line(list(spans), True, layer)


def total(cleaned):
    return sum(span_length(span) for span, _ in cleaned.loose)


def test_what_is_drawn_once_stays_as_it_is():
    cleaned = without_repeats([*loose(*BOX), ring(arc_spans((20, 20), 5, 0, 2 * math.pi))])
    assert ([span for span, _ in cleaned.loose], len(cleaned.rings), cleaned.repeats) == (BOX, 1, [])
    assert without_repeats([]).loose == []


@pytest.mark.parametrize("turn", [lambda span: span, reverse], ids=["same way", "other way"])
def test_a_line_drawn_twice_is_cut_once(turn):
    cleaned = without_repeats(loose(*BOX, turn(BOX[2])))
    assert len(cleaned.loose) == 4
    assert cleaned.repeats == [turn(BOX[2]).start]


def test_an_arc_drawn_twice_is_cut_once():
    arc = Span((0.0, 0.0), (10.0, 0.0), 0.4)
    for double in (arc, reverse(arc)):
        cleaned = without_repeats(loose(arc, double))
        assert len(cleaned.loose) == len(cleaned.repeats) == 1


def test_of_two_lines_the_longer_stays_and_the_other_keeps_what_sticks_out():
    long, short = Span((0.0, 0.0), (100.0, 0.0)), Span((80.0, 0.0), (130.0, 0.0))
    cleaned = without_repeats(loose(short, long))
    # Source: by hand, together they run from 0 to 130.
    assert total(cleaned) == pytest.approx(130.0)
    assert long in [span for span, _ in cleaned.loose]
    assert cleaned.repeats == [(80.0, 0.0)]


def test_a_long_line_over_two_short_ones_that_meet_takes_both():
    whole = Span((0.0, 0.0), (100.0, 0.0))
    cleaned = without_repeats(loose(Span((0.0, 0.0), (40.0, 0.0)), whole, Span((40.0, 0.0), (100.0, 0.0))))
    assert [span for span, _ in cleaned.loose] == [whole]
    assert len(cleaned.repeats) == 2


def test_arcs_of_one_circle_keep_what_no_other_covers():
    half, third = arc_spans((0, 0), 30, 0, math.pi)[0], arc_spans((0, 0), 30, math.pi / 2, 0.9 * math.pi)[0]
    cleaned = without_repeats(loose(half, third))
    # Source: by hand, from 0 to 1.4 pi of a circle of 30 mm.
    assert total(cleaned) == pytest.approx(1.4 * math.pi * 30.0)
    assert len(cleaned.repeats) == 1


def test_arcs_that_share_both_ends_of_a_circle_are_seen_at_both():
    most, rest = arc_spans((0, 0), 30, 0.1, math.pi)[0], arc_spans((0, 0), 30, -0.2, math.pi)[0]
    assert len(overlaps(most, rest)) == 1
    wide = Span((30.0, 0.0), (30 * math.cos(-0.5), 30 * math.sin(-0.5)), math.tan((2 * math.pi - 0.5) / 4))
    other = Span(wide.end, (30 * math.cos(0.4), 30 * math.sin(0.4)), math.tan(0.9 / 4))
    # The other runs over the gap of the wide one and 0.4 into its beginning.
    ((first, last),) = overlaps(wide, other)
    assert (first, last) == pytest.approx((0.0, 0.4 / (2 * math.pi - 0.5)), abs=1e-6)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (Span((0, 0), (100, 0)), Span((100, 0), (200, 0))),  # one after the other
        (Span((0, 0), (100, 0)), Span((0, 0.02), (100, 0.02))),  # beside each other, wider than is joined
        (Span((0, 0), (100, 0)), Span((0, -50), (100, 50))),  # across
        (Span((0, 0), (100, 0)), Span((0, 0), (100, 2))),  # at a sharp angle
        (Span((0, 0), (100, 0)), Span((0, 0), (100, 0), 0.1)),  # chord and arc
        (Span((0, 0), (10, 0), QUARTER), Span((0, 0), (10, 0), -QUARTER)),  # the two sides of a lens
        (Span((0, 0), (10, 0), 1.0), Span((10, 0), (0, 0), 1.0)),  # the two halves of a circle
    ],
)
def test_lines_that_are_no_doubles_are_left_alone(one, other):
    assert overlaps(one, other) == overlaps(other, one) == []
    assert len(without_repeats(loose(one, other)).loose) == 2


def test_a_line_and_an_arc_that_is_almost_flat_are_doubles():
    assert overlaps(Span((0, 0), (100, 0)), Span((0, 0), (100, 0), 1e-4)) == [(0.0, 1.0)]


def test_rings_are_taken_out_whole_and_only_where_they_lie_on_one_other():
    turned = [*BOX[2:], *BOX[:2]]
    backwards = [reverse(span) for span in reversed(BOX)]
    larger = spans_of(((0, 0, 0), (60, 0, 0), (60, 50, 0), (0, 50, 0)), closed=True)
    cleaned = without_repeats([ring(BOX), ring(turned), ring(larger), ring(backwards)])
    assert [line.spans for line in cleaned.rings] == [BOX, larger]
    assert len(cleaned.repeats) == 2


def test_two_circles_of_which_each_begins_elsewhere_are_one():
    cleaned = without_repeats([ring(arc_spans((5, 5), 8, first, 2 * math.pi)) for first in (0.0, 1.0, 2.5)])
    assert len(cleaned.rings) == 1


def test_a_loose_line_on_a_ring_goes_and_what_sticks_out_stays():
    cleaned = without_repeats([*loose(Span((10.0, 0.0), (90.0, 0.0)), BOX[1]), ring(BOX)])
    assert len(cleaned.rings) == 1
    assert total(cleaned) == pytest.approx(30.0)
    assert len(cleaned.repeats) == 2


def test_layers_stay_with_their_lines():
    cleaned = without_repeats([*loose(BOX[0], layer="A"), *loose(BOX[1], layer="B"), *loose(BOX[1], layer="C")])
    assert [layer for _, layer in cleaned.loose] == ["A", "B"]


spans = st.builds(
    Span,
    st.tuples(st.floats(-50, 50), st.floats(-50, 50)),
    st.tuples(st.floats(60, 150), st.floats(-50, 50)),
    st.sampled_from([0.0]) | st.floats(0.05, 1.0) | st.floats(-1.0, -0.05),
)


@given(spans, st.lists(st.floats(0.0, 1.0), min_size=2, max_size=2), st.booleans())
def test_a_piece_of_a_line_drawn_over_it_leaves_its_length(span, cut, turned):
    first, last = sorted(cut)
    piece = piece_of(span, first, last)
    if span_length(piece) < 20 * JOIN:
        return
    cleaned = without_repeats(loose(reverse(piece) if turned else piece, span))
    assert total(cleaned) == pytest.approx(span_length(span), abs=2 * JOIN)
    assert len(cleaned.repeats) == 1
