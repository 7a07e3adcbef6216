import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import BSpline

from nesting.drawing.nurbs import SplineCurve
from nesting.errors import BadValue

ROOT = math.sqrt(0.5)


@st.composite
def curves(draw):
    degree = draw(st.integers(1, 5))
    count = draw(st.integers(degree + 1, degree + 8))
    # Millionths of a millimetre, as finely as drawings are written.
    number = st.integers(-(10**8), 10**8).map(lambda millionths: millionths / 1e6)
    controls = draw(st.lists(st.tuples(number, number), min_size=count, max_size=count))
    steps = draw(st.lists(st.floats(0.1, 2.0), min_size=count - degree, max_size=count - degree))
    inside = np.concatenate([[0.0], np.cumsum(steps)])
    knots = np.concatenate([[0.0] * degree, inside, [inside[-1]] * degree])
    weights = draw(st.lists(st.floats(0.2, 5.0), min_size=count, max_size=count))
    return SplineCurve(degree, np.array(controls), knots, np.array(weights))


@given(curves(), st.lists(st.floats(0.0, 1.0), min_size=1, max_size=5))
def test_points_and_slopes_are_those_of_another_library(curve, shares):
    at = curve.first + np.array(shares) * (curve.last - curve.first)
    points, slopes = curve.points(at)
    # Source: scipy's BSpline on homogeneous control points, and the quotient rule.
    over = BSpline(curve.knots, curve.controls * curve.weights[:, None], curve.degree)
    under = BSpline(curve.knots, curve.weights, curve.degree)
    value = over(at) / under(at)[:, None]
    assert points == pytest.approx(value, abs=1e-8)
    # Where the slope jumps, at a knot of a polygon, either side is right.
    smooth = np.abs(at[:, None] - curve.knots[None, :]).min(axis=1) > 1e-9
    slope = (over.derivative()(at) - value * under.derivative()(at)[:, None]) / under(at)[:, None]
    assert slopes[smooth] == pytest.approx(slope[smooth], rel=1e-6, abs=1e-6)


def test_a_weighted_quadratic_is_an_exact_quarter_circle():
    # Source: the rational Bézier form of a quarter circle, weights 1, √½, 1.
    quarter = SplineCurve(2, np.array([(1, 0), (1, 1), (0, 1)], float), np.array([0, 0, 0, 1, 1, 1.0]),
                          np.array([1, ROOT, 1]))  # fmt: skip
    points, slopes = quarter.points(np.linspace(0, 1, 50))
    assert np.hypot(points[:, 0], points[:, 1]) == pytest.approx(1.0)
    assert (points * slopes).sum(axis=1) == pytest.approx(0.0, abs=1e-12)
    assert points[-1] == pytest.approx((0.0, 1.0))


def test_corners_are_where_a_knot_is_as_often_there_as_the_degree():
    controls = np.array([(0, 0), (1, 2), (2, 2), (3, 0), (4, -2), (5, -2), (6, 0)], float)
    knots = np.array([0, 0, 0, 0, 1, 1, 1, 2, 2, 2, 2], float)
    breaks, corners = SplineCurve(3, controls, knots, np.ones(7)).breaks()
    assert (breaks, corners) == ([0, 1, 2], [0, 1, 2])
    knots = np.array([0, 0, 0, 0, 1, 2, 3, 4, 4, 4, 4], float)
    breaks, corners = SplineCurve(3, controls, knots, np.ones(7)).breaks()
    assert (breaks, corners) == ([0, 1, 2, 3, 4], [0, 4])


def made(degree=2, count=4, knots=None, weights=None, controls=None):
    knots = [0, 0, 0, 0.5, 1, 1, 1] if knots is None else knots
    controls = np.arange(2 * count, dtype=float).reshape(count, 2) if controls is None else controls
    return SplineCurve(degree, controls, np.array(knots, float), np.ones(count) if weights is None else weights)


@pytest.mark.parametrize(
    "wrong",
    [
        {"degree": 0},
        {"degree": 4},
        {"count": 2},
        {"knots": [0, 0, 0, 1, 1, 1]},
        {"knots": [0, 0, 0, 0.5, 0.4, 1, 1]},
        {"knots": [0, 0, 0, np.nan, 1, 1, 1]},
        {"knots": [1.0] * 7},
        {"weights": np.array([1, 1, 0, 1.0])},
        {"weights": np.ones(3)},
        {"controls": np.array([(0, 0), (1, np.inf), (2, 0), (3, 3)])},
    ],
)
def test_what_does_not_make_a_curve_is_refused(wrong):
    assert made().last == 1.0
    with pytest.raises(BadValue, match="SplineCurve: "):
        made(**wrong)
