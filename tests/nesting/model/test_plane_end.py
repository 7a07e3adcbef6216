import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import BadValue
from nesting.geometry.ring_walk import RingWalk
from nesting.model.plane_end import ends_cross, plane_end
from nesting.model.tube_cuts import EndKind
from tests.mitred import BOX, ROUND, SECTIONS


@pytest.mark.parametrize("section", SECTIONS, ids=str)
@given(angle=st.floats(1.0, 80.0), towards=st.floats(0.0, 359.0), at_start=st.booleans())
def test_every_place_of_a_mitre_lies_on_its_plane(section, angle, towards, at_start):
    cut = plane_end(section, 3000.0, angle, towards, at_start=at_start)
    walk = RingWalk(section.outlines[0])
    slope, a = math.tan(math.radians(angle)), math.radians(towards)
    backs = []
    for (x, s, _), (next_x, next_s, _) in pairwise(cut.path.vertices):
        for share in (0.0, 0.5):
            y, z = walk.point_at(s + share * (next_s - s))
            # Source: the plane through the long point: a way across towards it gains the tangent of the angle.
            out = x + share * (next_x - x) if at_start else 3000.0 - x - share * (next_x - x)
            backs.append(out + slope * (y * math.cos(a) + z * math.sin(a)))
    assert max(backs) - min(backs) < 0.011
    assert cut.path.vertices[-1][1] == pytest.approx(walk.girth)


def test_on_a_round_tube_the_flat_edge_of_a_mitre_is_a_cosine():
    # Source: the textbook of sheet metal development: x = r·tan(angle)·(1 - cos(s/r)) from the long point on.
    cut = plane_end(ROUND, 500.0, 30.0, 0.0, at_start=True)
    r = ROUND.height / 2.0
    for x, s, _ in cut.path.vertices:
        assert x == pytest.approx(r * math.tan(math.radians(30.0)) * (1.0 - math.cos(s / r)), abs=1e-9)


def test_a_square_end_goes_straight_round():
    cut = plane_end(BOX, 500.0, 0.0, 0.0, at_start=False)
    assert cut.kind is EndKind.SQUARE
    assert {x for x, *_ in cut.path.vertices} == {500.0}


@pytest.mark.parametrize("angle", [-1.0, 90.0, 120.0])
def test_an_angle_that_no_mitre_has_is_refused(angle):
    with pytest.raises(BadValue, match="cannot lean by"):
        plane_end(BOX, 500.0, angle, 0.0, at_start=True)


@pytest.mark.parametrize(("length", "crosses"), [(79.0, True), (81.0, False)])
def test_a_part_too_short_for_its_mitres_has_ends_that_cross(length, crosses):
    # Source: by hand: two mitres of 45° on 40 mm take 40 mm of the short side each.
    ends = tuple(plane_end(BOX, length, 45.0, 90.0, at_start=at_start) for at_start in (True, False))
    assert ends_cross(ends) is crosses
