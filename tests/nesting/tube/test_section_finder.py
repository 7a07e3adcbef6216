import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.model.section import Section
from nesting.tube.measuring import measure
from nesting.tube.section_finder import HollowSection, NoSection, faces_along, find_section
from nesting.tube.tube_solids import Hole, Mitre, Placement, Tube, Window, tube_solid
from tests import other_solids


def found(solid):
    measured = measure(solid)
    along = faces_along(measured)
    return NoSection() if along is None else find_section(measured, along)


@settings(max_examples=25, deadline=None)
@given(turn=st.floats(0, 360), tilt=st.floats(-1, 1), side=st.floats(-1, 1))
def test_the_frame_lies_along_the_tube_however_it_is_turned(turn, tilt, side):
    placement = Placement((1.0, tilt, side), turn, (100, -200, 300))
    section = found(tube_solid(Tube(Section.box(60, 40, 3, 6), 250, placement=placement)))
    assert isinstance(section, HollowSection)
    assert np.allclose(section.frame.axes @ section.frame.axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(section.frame.axes) == pytest.approx(1.0)
    assert (section.length, section.outer.height, section.outer.width) == pytest.approx((250, 60, 40), abs=1e-8)
    local = section.frame.local(measure(tube_solid(Tube(Section.box(60, 40, 3, 6), 250, placement=placement))).points())
    assert local.min(axis=0) == pytest.approx((0, -20, -30), abs=1e-8)
    assert local.max(axis=0) == pytest.approx((250, 20, 30), abs=1e-8)


@pytest.mark.parametrize("length", [8.0, 15.0, 30.0, 3000.0])
@pytest.mark.parametrize("section", [Section.box(40, 40, 3, 6), Section.box(60, 30, 2, 4), Section.round(40, 2)])
def test_the_axis_of_short_pieces_is_found_too(section, length):
    piece = found(tube_solid(Tube(section, length)))
    assert isinstance(piece, HollowSection)
    assert abs(piece.frame.axes[0][0]) == pytest.approx(1.0)
    assert piece.length == pytest.approx(length)


def test_large_openings_do_not_hide_the_section():
    windows = tuple(Window(60 + 80 * k, 70, 24, 90.0 * side, both_walls=False) for k in range(3) for side in range(4))
    section = found(tube_solid(Tube(Section.box(40, 40, 2, 4), 300, openings=windows)))
    assert isinstance(section, HollowSection)
    assert (section.wall, section.outer.radius) == pytest.approx((2.0, 4.0))


def test_a_corner_that_is_cut_away_over_the_whole_length_is_left_out():
    corner = (Window(50, 200, 14, towards=45),)
    section = found(tube_solid(Tube(Section.box(40, 40, 3, 6), 100, openings=corner)))
    assert isinstance(section, HollowSection)
    assert section.outer.radius == pytest.approx(6.0)


def test_the_inner_radius_is_read_by_itself():
    section = found(tube_solid(Tube(Section.box(50, 50, 4, 6, 4), 200, start=Mitre(30))))
    assert (section.outer.radius, section.inner.radius) == pytest.approx((6.0, 4.0))
    assert section.metal_area == pytest.approx(Section.box(50, 50, 4, 6, 4).metal_area)


def test_holes_bored_across_are_not_taken_for_the_axis():
    big = tuple(Hole(40 + 60 * k, 52, both_walls=True) for k in range(4))
    section = found(tube_solid(Tube(Section.round(60, 10), 260, openings=big)))
    assert isinstance(section, HollowSection)
    assert section.length == pytest.approx(260)


@pytest.mark.parametrize(
    ("kind", "has_wall"),
    [("angle", 2), ("channel", 3), ("tee", 1), ("i_beam", 2), ("solid_square_bar", 0), ("solid_round_bar", 0)],
)
def test_open_profiles_have_walls_on_some_sides_only(kind, has_wall):
    section = found(getattr(other_solids, kind)())
    assert isinstance(section, NoSection)
    assert sum(section.has_wall) == has_wall


def test_a_solid_without_planes_and_cylinders_has_no_axis():
    assert faces_along(measure(other_solids.ball())) is None
