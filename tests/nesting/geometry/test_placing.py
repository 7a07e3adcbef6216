import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.affinity import rotate, scale, translate
from shapely.geometry import Polygon

from nesting.geometry.contour import Contour, Path
from nesting.geometry.placing import placed, turn_vector
from tests.strategies import holes, rings, turns

L_SHAPE = Contour(((0, 0, 0), (30, 0, 0), (30, 10, 0), (10, 10, 0), (10, 50, 0), (0, 50, 0)))

shifts = st.floats(-5000.0, 5000.0)


@pytest.mark.parametrize("turn", [-720.0, -90.0, 0.0, 90.0, 180.0, 270.0, 360.0, 450.0])
def test_quarter_turns_are_exact(turn):
    cos, sin = turn_vector(turn)
    # Source: math library, to within its rounding; and whole numbers, which the library does not give.
    assert (cos, sin) == pytest.approx((math.cos(math.radians(turn)), math.sin(math.radians(turn))), abs=1e-12)
    assert {abs(cos), abs(sin)} == {0.0, 1.0}


def test_a_turn_is_anticlockwise_about_the_origin():
    path = placed(Path(((10.0, 0.0, 0.0), (20.0, 0.0, 0.0))), 0.0, 0.0, 90.0)
    assert path.vertices == ((0.0, 10.0, 0.0), (0.0, 20.0, 0.0))


def test_mirroring_comes_before_turning_and_turning_before_shifting():
    # Source: by hand: (10, 0) mirrored in x is (-10, 0), turned by 90 degrees (0, -10), shifted by (5, 7) (5, -3).
    path = placed(Path(((10.0, 0.0, 0.5), (10.0, 3.0, 0.0))), 5.0, 7.0, 90.0, mirrored=True)
    assert path.vertices[0] == (5.0, -3.0, -0.5)
    assert path.vertices[1] == (2.0, -3.0, -0.0)


@given(st.one_of(rings(), holes(3.0, -2.0), st.just(L_SHAPE)), shifts, shifts, turns, st.booleans())
def test_placing_is_what_shapely_does(ring, x, y, turn, mirrored):
    moved = placed(ring, x, y, turn, mirrored=mirrored)
    # Source: shapely.affinity: scale by -1 in x, rotate about the origin, translate.
    expected = Polygon(ring.polygon(1e-3))
    expected = scale(expected, xfact=-1.0, origin=(0, 0)) if mirrored else expected
    expected = translate(rotate(expected, turn, origin=(0, 0)), x, y)
    assert Polygon(moved.polygon(1e-3)).hausdorff_distance(expected) < 2e-3
    assert moved.area == pytest.approx(ring.area, rel=1e-6)
    assert moved.length == pytest.approx(ring.length, rel=1e-9)
    assert moved.is_anticlockwise == ring.is_anticlockwise


@given(rings(), shifts, shifts, turns)
def test_a_placed_ring_can_be_put_back(ring, x, y, turn):
    there = placed(ring, x, y, turn)
    back = placed(placed(there, -x, -y), 0.0, 0.0, -turn)
    for (x0, y0, b0), (x1, y1, b1) in zip(ring.vertices, back.vertices, strict=True):
        assert (x1, y1, b1) == pytest.approx((x0, y0, b0), abs=1e-8)


def test_an_open_path_keeps_its_order_when_mirrored():
    path = Path(((0.0, 0.0, 0.0), (10.0, 0.0, 1.0), (10.0, 5.0, 0.0)))
    mirrored = placed(path, 0.0, 0.0, mirrored=True)
    assert type(mirrored) is Path
    assert [v[:2] for v in mirrored.vertices] == [(0.0, 0.0), (-10.0, 0.0), (-10.0, 5.0)]
    assert mirrored.length == pytest.approx(path.length)
