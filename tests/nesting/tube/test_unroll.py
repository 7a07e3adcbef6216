import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.model.section import Section
from nesting.tube.unroll import faces_towards, outline_of, rolled, unrolled
from tests.nesting.model.test_section import SHAPES


@pytest.mark.parametrize("section", SHAPES, ids=str)
@given(st.lists(st.tuples(st.floats(-100, 6000), st.floats(0, 1)), min_size=1, max_size=20))
@settings(deadline=None, max_examples=20)
def test_rolled_up_and_laid_flat_again_every_place_is_where_it_was(section, given_places):
    girth = section.girth
    places = np.array([(x, share * girth * 0.999) for x, share in given_places])
    again = unrolled(section, rolled(section, places))
    assert again[:, 0] == pytest.approx(places[:, 0], abs=1e-6)
    apart = np.abs(again[:, 1] - places[:, 1])
    assert np.minimum(apart % girth, girth - apart % girth).max() < 1e-6


def test_neighbours_stay_neighbours_where_the_way_round_begins_again():
    section = Section.round(50, 2)
    places = np.array([[0.0, section.girth - 1.0], [0.0, section.girth + 1.0], [0.0, section.girth + 3.0]])
    assert np.diff(unrolled(section, rolled(section, places))[:, 1]) == pytest.approx([2.0, 2.0])


def test_known_places_of_a_box():
    section = Section.box(60, 40, 3, 6)
    # Source: by hand: s begins in the middle of the +y side; half of its flat, a quarter circle, half of the top's flat
    top = 24 + 6 * math.pi / 2 + 14
    assert rolled(section, np.array([[7.0, 0.0], [7.0, top]])) == pytest.approx(np.array([[7, 20, 0], [7, 0, 30]]))


@pytest.mark.parametrize(("share", "towards"), [(0.0, 0), (0.25, 90), (0.5, 180), (0.75, 270)])
def test_the_surface_faces_outwards(share, towards):
    for section in (Section.round(48.3, 3), Section.box(40, 40, 3, 6)):
        assert abs((faces_towards(section, share * section.girth) - towards + 180) % 360 - 180) < 1e-6


def test_what_faces_inwards_in_an_angle_is_told_by_its_side():
    section = Section.angle(60, 40, 5, 6, 3)
    outline = outline_of(section)
    faces = [round(faces_towards(section, side.first + side.length / 2.0)) % 360 for side in outline.sides]
    # Source: by hand: round the angle anticlockwise from the heel: under the flat leg, its toe, over it, beside the
    # upright leg inside, its toe, and outside of it
    assert faces == [270, 0, 90, 0, 90, 180]
