"""The largest upright rectangle in an outline: closed formulas, a search over every cell, and never a hair outside."""

import math

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon

from nesting.geometry.contour import Bounds, Contour
from nesting.geometry.placing import placed
from nesting.layout.free_rectangle import is_upright_rectangle, largest_rectangle, usable_area, usable_rectangle
from tests.nest_again import points
from tests.shop_parts import L_REMNANT, rounded
from tests.strategies import rings

BOW = Contour(((0, 0, 0), (1000, 1000, 0), (1000, 0, 0), (0, 600, 0)))
NOTCHED = Contour(((0, 0, 0), (400, 0, 0), (400, 300, 0), (250, 300, -1.0), (150, 300, 0), (0, 300, 0)))
"""400 x 300 mm with a half circle of 50 mm radius cut into its upper edge."""


def size(bounds):
    return bounds.width * bounds.height


def box(bounds):
    return shapely.box(bounds.left, bounds.bottom, bounds.right, bounds.top)


@pytest.mark.parametrize(
    ("outline", "is_one"),
    [
        (Contour.rectangle(1000.0, 500.0), True),
        (Contour.rectangle(0.3, 0.1, x=1e6 / 3.0, y=-1e5 / 7.0), True),
        (Contour.rectangle(1000.0, 500.0).reversed(), True),
        (Contour(((0, 0, 0), (500, 0, 0), (1000, 0, 0), (1000, 500, 0), (0, 500, 0))), True),
        (L_REMNANT, False),
        (rounded(1000.0, 500.0, 1.0), False),
        (placed(Contour.rectangle(1000.0, 500.0), 0.0, 0.0, 0.01), False),
        (Contour(Contour.rectangle(1000.0, 500.0).vertices * 2), False),
    ],
    ids=["plain", "tiny and far", "clockwise", "corner in a side", "L", "round corners", "slanted", "runs round twice"],
)
def test_an_upright_rectangle_is_known(outline, is_one):
    assert is_upright_rectangle(outline) is is_one


def test_a_plain_sheet_is_usable_up_to_its_margin():
    assert usable_rectangle(Contour.rectangle(1000.0, 500.0, x=30.0), 10.0) == Bounds(40.0, 10.0, 1020.0, 490.0)


def test_a_sheet_that_is_all_margin_has_no_usable_rectangle():
    assert usable_rectangle(Contour.rectangle(1000.0, 500.0), 250.0) is None
    assert usable_rectangle(L_REMNANT, 250.0) is None
    assert usable_rectangle(L_REMNANT, 5000.0) is None


def test_the_longer_leg_of_a_remnant_is_used():
    # Source: by hand, the lower leg is 900 x 400 mm, the upper one 300 x 800 mm.
    assert usable_rectangle(L_REMNANT, 0.0) == Bounds(0.0, 0.0, 900.0, 400.0)
    found = usable_rectangle(L_REMNANT, 10.0)
    assert (found.left, found.bottom, found.right, found.top) == pytest.approx((10, 10, 890, 390), abs=1e-6)


def test_an_outline_that_crosses_itself_has_no_usable_area():
    assert usable_area(BOW, 0.0).is_empty
    assert usable_rectangle(BOW, 0.0) is None


def test_the_rectangle_in_a_triangle_is_half_of_it():
    # Source: known of triangles (from memory): the largest upright rectangle has half the area, here 600 x 400 / 4.
    found = usable_rectangle(Contour(((0, 0, 0), (600, 0, 0), (0, 400, 0))), 0.0)
    assert 0.97 * 60_000.0 <= size(found) <= 60_000.0 + 1e-3


def test_the_rectangle_in_a_disc_is_nearly_its_square():
    # Source: closed formula, the largest rectangle in a circle is the square of area 2 r².
    found = usable_rectangle(Contour.circle(10.0, 20.0, 300.0), 0.0)
    assert 0.95 * 2.0 * 300.0**2 <= size(found) <= 2.0 * 300.0**2


def test_an_arc_cut_into_a_sheet_is_kept_off():
    found = usable_rectangle(NOTCHED, 0.0)
    # Source: by hand, 400 mm wide below the arc, which reaches down to 250 mm.
    assert (found.width, found.height) == pytest.approx((400.0, 250.0), abs=0.1)
    assert found.top <= 250.0


def test_a_hole_is_kept_off():
    area = Polygon(
        Polygon(((0, 0), (100, 0), (100, 100), (0, 100))).exterior, [[(40, 40), (40, 60), (60, 60), (60, 40)]]
    )
    assert size(largest_rectangle(area)) == pytest.approx(40.0 * 100.0)


def test_nothing_has_no_rectangle():
    assert largest_rectangle(Polygon()) is None


def test_an_outline_of_a_thousand_corners_is_sampled():
    ring = [(300.0 * math.cos(k / 500.0 * math.pi), 300.0 * math.sin(k / 500.0 * math.pi)) for k in range(1000)]
    found = largest_rectangle(Polygon(ring))
    assert 0.95 * 2.0 * 300.0**2 <= size(found) <= 2.0 * 300.0**2
    assert Polygon(ring).buffer(1e-6).covers(box(found))


@given(rings(), st.sampled_from([0.0, 3.0, 20.0]), st.floats(0.0, 90.0))
def test_what_is_usable_lies_within_the_outline_and_off_its_edge(ring, margin, turn):
    ring = placed(ring, 500.0, 300.0, turn)
    found = usable_rectangle(ring, margin)
    # Every such ring holds a disc of a third of its radius, and that a square.
    assert found is not None
    assert size(found) > 0.5 * 2.0 * (33.0 - margin) ** 2
    true = Polygon(points(ring, per_turn=20_000))
    assert true.buffer(1e-3).covers(box(found))
    assert true.exterior.distance(box(found)) >= margin - 1e-3


@st.composite
def cells(draw):
    """Some of the cells of a small raster, and where its lines run."""
    columns, rows = draw(st.integers(1, 5)), draw(st.integers(1, 5))
    xs = draw(st.lists(st.integers(0, 40), min_size=columns + 1, max_size=columns + 1, unique=True))
    ys = draw(st.lists(st.integers(0, 40), min_size=rows + 1, max_size=rows + 1, unique=True))
    free = draw(st.lists(st.booleans(), min_size=columns * rows, max_size=columns * rows))
    return sorted(xs), sorted(ys), {(i, j) for i in range(columns) for j in range(rows) if free[i * rows + j]}


def largest_by_trying(xs, ys, free):
    best = 0
    for left in range(len(xs)):
        for right in range(left + 1, len(xs)):
            for low in range(len(ys)):
                for high in range(low + 1, len(ys)):
                    if all((i, j) in free for i in range(left, right) for j in range(low, high)):
                        best = max(best, (xs[right] - xs[left]) * (ys[high] - ys[low]))
    return best


@given(cells())
def test_among_upright_edges_the_very_largest_is_found(raster):
    xs, ys, free = raster
    area = shapely.union_all([shapely.box(xs[i], ys[j], xs[i + 1], ys[j + 1]) for i, j in free])
    best = max((size(found) for each in shapely.get_parts(area) if (found := largest_rectangle(each))), default=0.0)
    assert best == pytest.approx(largest_by_trying(xs, ys, free))
