"""Bounds at many turns at once, held against shapes that were really turned."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.geometry.contour import Contour
from nesting.geometry.placing import placed
from nesting.layout import turned_bounds as module
from nesting.layout.turned_bounds import turned_bounds
from tests.strategies import rings, turns


def as_tuple(bounds):
    return bounds.left, bounds.bottom, bounds.right, bounds.top


@given(rings(), st.lists(turns, min_size=1, max_size=8), st.floats(-1000.0, 1000.0))
def test_bounds_are_those_of_the_turned_ring(ring, turns, shift):
    ring = placed(ring, shift, -shift / 3.0)
    for turn, found in zip(turns, turned_bounds(ring, turns), strict=True):
        assert as_tuple(found) == pytest.approx(as_tuple(placed(ring, 0.0, 0.0, turn).bounds), abs=1e-8)


@given(st.floats(-720.0, 720.0))
def test_a_circle_has_its_diameter_at_every_turn(turn):
    # Source: by hand, the centre (30, 40) is 50 mm from the origin and stays so when it is turned.
    (found,) = turned_bounds(Contour.circle(30.0, 40.0, 7.0), [turn])
    assert (found.width, found.height) == pytest.approx((14.0, 14.0), abs=1e-9)
    x, y = (found.left + found.right) / 2.0, (found.bottom + found.top) / 2.0
    assert math.hypot(x, y) == pytest.approx(50.0, abs=1e-9)


@given(st.floats(0.0, 90.0))
def test_a_rectangle_has_the_bounds_of_the_textbook(turn):
    # Source: by hand, w cos t + h sin t and w sin t + h cos t.
    (found,) = turned_bounds(Contour.rectangle(300.0, 100.0), [turn])
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    assert (found.width, found.height) == pytest.approx((300 * cos + 100 * sin, 300 * sin + 100 * cos), abs=1e-9)


def test_quarter_turns_are_exact():
    found = turned_bounds(Contour.rectangle(300.0, 100.0), [0.0, 90.0, 180.0, 270.0, 360.0, -90.0])
    assert [(b.width, b.height) for b in found] == [
        (300, 100),
        (100, 300),
        (300, 100),
        (100, 300),
        (300, 100),
        (100, 300),
    ]


def test_turns_that_are_worked_out_in_several_rounds_are_the_same(monkeypatch):
    ring, turns = Contour.circle(5.0, 1.0, 3.0), [float(k) for k in range(100)]
    at_once = turned_bounds(ring, turns)
    monkeypatch.setattr(module, "AT_ONCE", 13)
    assert turned_bounds(ring, turns) == at_once


def test_no_turns_have_no_bounds():
    assert turned_bounds(Contour.circle(0.0, 0.0, 1.0), []) == []
