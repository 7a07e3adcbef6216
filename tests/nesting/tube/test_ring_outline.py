import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from nesting.model.section import Section
from nesting.tube.outline import Outline
from nesting.tube.ring_outline import RingOutline
from tests.nesting.model.test_section import SHAPES


def ring_of(section):
    return RingOutline(section.outlines[0])


@pytest.mark.parametrize("section", SHAPES, ids=str)
def test_every_way_round_has_its_point_and_every_point_its_way_round(section):
    outline = ring_of(section)
    ways = np.linspace(0, outline.girth, 1777, endpoint=False)
    points = outline.at(ways)
    assert np.abs(outline.distance(points)).max() < 1e-9
    apart = np.abs(outline.around(points) - ways)
    assert np.minimum(apart, outline.girth - apart).max() < 1e-9
    # Source: the way round is an arc length: points a step apart are no further than it, and nearly so far
    steps = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
    assert steps.max() <= ways[1] + 1e-9
    assert outline.girth == pytest.approx(section.girth)


@pytest.mark.parametrize("section", SHAPES[:4], ids=str)
def test_hollow_sections_count_from_the_same_place_as_their_own_outline(section):
    ring = ring_of(section)
    radius = section.height / 2 if section.shape == "round" else section.corner_radius
    own = Outline(section.width, section.height, radius)
    points = ring.at(np.linspace(0, ring.girth, 999, endpoint=False))
    apart = np.abs(own.around(points) - ring.around(points))
    assert np.minimum(apart, ring.girth - apart).max() < 1e-9


@settings(max_examples=200, deadline=None)
@given(y=st.floats(-60, 60), z=st.floats(-60, 60), k=st.integers(0, len(SHAPES) - 1))
def test_distance_is_that_of_shapely(y, z, k):
    outline = ring_of(SHAPES[k])
    polygon = Polygon(SHAPES[k].outlines[0].polygon(1e-4))
    distance = polygon.exterior.distance(Point(y, z)) * (-1 if polygon.contains(Point(y, z)) else 1)
    assert float(outline.distance(np.array([[y, z]]))[0]) == pytest.approx(distance, abs=1e-3)


def test_a_way_round_knows_the_side_it_lies_on():
    outline = ring_of(Section.angle(50, 40, 5, 6, 3))
    bottom = outline.side_at(10.0)
    assert bottom is not None
    assert bottom.spans[0].start == pytest.approx((-20, -25))
    assert outline.side_at(40 + 2.0 + 3 * math.pi / 4) is None  # on the toe's arc
    assert outline.side_at(10.0 + outline.girth) is bottom


def test_a_side_in_whose_middle_the_ring_begins_is_one_side():
    outline = ring_of(Section.box(60, 40, 3, 6))
    # Source: by hand: flats of 60 - 12 and 40 - 12
    assert [side.length for side in outline.sides] == pytest.approx([48, 28, 48, 28])
    assert outline.sides[0].first == pytest.approx(-24)
    assert outline.side_at(outline.girth - 20.0) is outline.side_at(20.0) is outline.sides[0]
    assert outline.sides[0].is_under(np.array([[20.0, -20.0], [20.0, 20.0]]), 1e-6)
    assert not outline.sides[0].is_under(np.array([[20.0, 0.0], [19.0, 0.0]]), 1e-6)
    assert ring_of(Section.round(48.3, 3)).sides == ()
