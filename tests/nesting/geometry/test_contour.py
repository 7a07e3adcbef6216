import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon

from nesting.errors import BadValue
from nesting.geometry.contour import Bounds, Contour, Path
from tests.strategies import holes, rings

QUARTER = math.tan(math.pi / 8.0)

SLOT = Contour(((0.0, 0.0, 0.0), (30.0, 0.0, 1.0), (30.0, 10.0, 0.0), (0.0, 10.0, 1.0)))

ROUNDED = Contour(
    (
        (5.0, 0.0, 0.0),
        (95.0, 0.0, QUARTER),
        (100.0, 5.0, 0.0),
        (100.0, 45.0, QUARTER),
        (95.0, 50.0, 0.0),
        (5.0, 50.0, QUARTER),
        (0.0, 45.0, 0.0),
        (0.0, 5.0, QUARTER),
    )
)

any_ring = st.one_of(rings(), holes(3.0, -2.0))


@pytest.mark.parametrize(
    ("ring", "area", "length"),
    [
        # Source: by hand, a b and 2 (a + b).
        (Contour.rectangle(120.0, 80.0), 9600.0, 400.0),
        # Source: circle, pi r² and 2 pi r.
        (Contour.circle(7.0, -3.0, 12.5), math.pi * 12.5**2, 2.0 * math.pi * 12.5),
        # Source: by hand, slot of 30 between centres and 10 across: 300 + 25 pi; 60 + 10 pi.
        (SLOT, 300.0 + 25.0 * math.pi, 60.0 + 10.0 * math.pi),
        # Source: by hand, rectangle 100 x 50 with corners of radius 5: a b - (4 - pi) r²; 2 (a + b) - (8 - 2 pi) r.
        (ROUNDED, 5000.0 - (4.0 - math.pi) * 25.0, 300.0 - (8.0 - 2.0 * math.pi) * 5.0),
        # Source: by hand, a square of 40 with a half disc of 10 bitten out of one side.
        (
            Contour(((0, 0, 0), (40, 0, 0), (40, 40, 0), (30, 40, -1), (10, 40, 0), (0, 40, 0))),
            1600.0 - 50.0 * math.pi,
            140.0 + 10.0 * math.pi,
        ),
    ],
)
def test_area_and_length_are_exact(ring, area, length):
    for run in (ring, ring.reversed()):
        assert run.area == pytest.approx(area, rel=1e-12)
        assert run.length == pytest.approx(length, rel=1e-12)


def test_bounds_reach_to_where_arcs_bulge():
    # Source: by hand, the ends of the slot bulge by its radius of 5.
    assert SLOT.bounds == Bounds(-5.0, 0.0, 35.0, 10.0)
    assert (SLOT.bounds.width, SLOT.bounds.height) == (40.0, 10.0)


@given(any_ring)
def test_a_fine_polygon_has_the_same_area_length_and_bounds(ring):
    # Source: shapely, polygon of chords within 1e-4 of the arcs.
    fine = Polygon(ring.polygon(1e-4))
    assert fine.is_valid
    assert ring.area == pytest.approx(fine.area, abs=1e-4 * ring.length)
    assert ring.length == pytest.approx(fine.length, rel=1e-4)
    bounds = ring.bounds
    assert (bounds.left, bounds.bottom, bounds.right, bounds.top) == pytest.approx(fine.bounds, abs=2e-4)


@given(any_ring, st.floats(0.01, 2.0))
def test_outwards_encloses_and_inwards_is_enclosed(ring, height):
    fine = Polygon(ring.polygon(1e-5))
    outer, inner = Polygon(ring.polygon(height, "outwards")), Polygon(ring.polygon(height, "inwards"))
    # Source: shapely; 1e-4 is what the fine polygon itself may miss.
    assert outer.buffer(1e-4).contains(fine)
    assert fine.buffer(1e-4).contains(inner)
    assert outer.exterior.hausdorff_distance(fine.exterior) <= height + 1e-3


@given(any_ring)
def test_reversing_twice_gives_the_same_ring(ring):
    assert ring.reversed().signed_area == pytest.approx(-ring.signed_area, rel=1e-12)
    assert ring.reversed().reversed() == ring
    assert ring.clockwise().signed_area < 0 < ring.anticlockwise().signed_area
    back = Polygon(ring.reversed().polygon(1e-4))
    assert Polygon(ring.polygon(1e-4)).hausdorff_distance(back) < 1e-3


@given(any_ring, st.integers(0, 7))
def test_where_a_ring_begins_does_not_matter(ring, shift):
    shift %= len(ring.vertices)
    turned = Contour(ring.vertices[shift:] + ring.vertices[:shift])
    assert turned.signed_area == pytest.approx(ring.signed_area, rel=1e-9)
    assert turned.length == pytest.approx(ring.length, rel=1e-12)
    assert turned.bounds.left == pytest.approx(ring.bounds.left, abs=1e-9)


def test_area_far_from_the_origin_keeps_its_digits():
    # Source: by hand; the shoelace formula on raw coordinates would lose five digits here.
    assert Contour.rectangle(10.0, 10.0, 1e6, -1e6).area == pytest.approx(100.0, rel=1e-12)


def test_an_open_path_has_no_way_back():
    path = Path(((0.0, 0.0, 0.0), (30.0, 0.0, 1.0), (30.0, 10.0, 0.7)))
    # Source: by hand, 30 along and a half circle over 10.
    assert path.length == pytest.approx(30.0 + 5.0 * math.pi)
    assert path.bounds == Bounds(0.0, 0.0, 35.0, 10.0)
    points = path.flattened(0.001)
    assert (points[0], points[-1]) == ((0.0, 0.0), (30.0, 10.0))
    assert LineString(points).length == pytest.approx(path.length, rel=1e-3)


def test_a_flattened_ring_ends_where_it_began():
    points = SLOT.flattened(0.01)
    assert points[0] == points[-1]
    assert LineString(points).is_ring


def test_bounds_join():
    assert Bounds(0, 0, 1, 1).joined(Bounds(-2, 0.5, 0.5, 3)) == Bounds(-2, 0, 1, 3)


@pytest.mark.parametrize(
    ("make", "complaint"),
    [
        (lambda: Path(((0.0, 0.0, 0.0),)), "1 vertices, at least 2"),
        (lambda: Contour(()), "0 vertices, at least 2"),
        (lambda: Path(((0.0, math.nan, 0.0), (1.0, 0.0, 0.0))), "not three finite numbers"),
        (lambda: Contour(((0.0, 0.0, math.inf), (1.0, 0.0, 0.0))), "not three finite numbers"),
        (lambda: Contour(((0.0, 0.0), (1.0, 0.0))), "not three finite numbers"),
        (lambda: Contour(((0.0, 0.0, 0.0), (5.0, 5.0, 0.0))), "encloses no area"),
        (lambda: Contour(((0.0, 0.0, 0.3), (5.0, 5.0, -0.3))), "encloses no area"),
    ],
)
def test_what_is_no_ring_is_not_built(make, complaint):
    with pytest.raises(BadValue, match=complaint):
        make()
