"""Polygons with fewer corners that still tell where the metal is."""

import math

import pytest
from shapely.geometry import Polygon

from nesting.geometry.fewer_corners import MOST_CORNERS, fewer_corners


def gear(corners, outer, inner):
    angles = [2.0 * math.pi * k / corners for k in range(corners)]
    reach = [outer if k % 2 else inner for k in range(corners)]
    return Polygon([(r * math.cos(a), r * math.sin(a)) for r, a in zip(reach, angles, strict=True)])


def test_a_usual_outline_stays_as_it_is():
    shape = gear(40, 50.0, 30.0)
    assert fewer_corners(shape) == (shape, 0.0)


@pytest.mark.parametrize("depth", [0.05, 0.7, 2.5, 20.0])
def test_what_it_stands_for_lies_within_it_grown_by_what_it_moved(depth):
    shape = gear(1000, 50.0, 50.0 - depth)
    simpler, moved = fewer_corners(shape)
    assert len(simpler.exterior.coords) <= MOST_CORNERS + 1
    assert simpler.buffer(moved + 1e-6).covers(shape)


def test_deep_teeth_become_their_hull():
    simpler, moved = fewer_corners(gear(1000, 50.0, 20.0))
    assert moved == 0.0
    assert simpler.area == pytest.approx(math.pi * 50.0**2, rel=0.01)
