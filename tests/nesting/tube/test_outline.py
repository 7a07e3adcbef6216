import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point, box

from nesting.tube.outline import Outline

OUTLINES = [Outline(40, 60, 6), Outline(40, 60, 0), Outline(60, 60, 30), Outline.circle(24.15), Outline(30, 60, 15)]


def walked(outline, steps=2000):
    """Points at equal ways round, each found by walking sides and corners one after the other."""
    y, z = outline.width / 2 - outline.radius, outline.height / 2 - outline.radius
    corners, quarter = [(y, z), (-y, z), (-y, -z), (y, -z)], outline.radius * math.pi / 2
    ways = np.linspace(0, outline.girth, steps, endpoint=False)
    points = []
    for way in ways:
        left = way - z
        if left < 0:
            points.append((y + outline.radius, way))
            continue
        for k, (cy, cz) in enumerate(corners):
            angle = k * math.pi / 2
            if left < quarter:
                turned = angle + left / outline.radius
                points.append((cy + outline.radius * math.cos(turned), cz + outline.radius * math.sin(turned)))
                break
            left -= quarter
            side = (2 * y, 2 * z)[k % 2] if k < 3 else z
            if left < side:
                turned = angle + math.pi / 2
                at = (cy + outline.radius * math.cos(turned), cz + outline.radius * math.sin(turned))
                points.append((at[0] - left * math.sin(turned), at[1] + left * math.cos(turned)))
                break
            left -= side
    return ways, np.array(points)


@pytest.mark.parametrize("outline", OUTLINES, ids=str)
def test_every_point_of_the_outline_is_found_on_it_and_at_its_way_round(outline):
    ways, points = walked(outline)
    assert len(points) == len(ways)
    assert np.abs(outline.distance(points)).max() < 1e-9
    assert np.abs(outline.around(points) - ways).max() < 1e-9


@pytest.mark.parametrize("outline", OUTLINES, ids=str)
def test_girth_and_area_are_those_of_the_polygon_of_its_points(outline):
    _, points = walked(outline, 40_000)
    steps = np.roll(points, -1, axis=0) - points
    assert outline.girth == pytest.approx(float(np.hypot(*steps.T).sum()), rel=1e-6)
    crossed = points[:, 0] * np.roll(points[:, 1], -1) - points[:, 1] * np.roll(points[:, 0], -1)
    assert outline.area == pytest.approx(float(crossed.sum()) / 2, rel=1e-6)


@given(y=st.floats(-50, 50), z=st.floats(-50, 50), radius=st.sampled_from([0.0, 6.0, 20.0]))
def test_distance_is_that_of_shapely(y, z, radius):
    outline = Outline(40, 60, radius)
    # A rectangle that shrinks to a line where the corners take up the whole width
    core = box(-20 + radius, -30 + radius, 20 - radius + 1e-9, 30 - radius)
    polygon = core.buffer(radius, quad_segs=512) if radius else core
    outside = Point(y, z).distance(polygon)
    inside = polygon.exterior.distance(Point(y, z)) if outside == 0 else 0.0
    assert float(outline.distance(np.array([[y, z]]))[0]) == pytest.approx(outside - inside, abs=2e-3)


def test_the_inner_outline_stands_a_wall_further_in():
    assert Outline(40, 60, 6).inwards(3, 3) == Outline(34, 54, 3)
