import math

import pytest

from nesting.model.section import Section
from nesting.tube.measuring import measure
from nesting.tube.solid import Edge, Solid
from nesting.tube.tube_shape import NotATube, tube_shape
from nesting.tube.tube_solids import Cope, Hole, Mitre, Slot, Tube, Window, tube_solid
from tests import other_solids


def shape_of(solid):
    return tube_shape(measure(solid))


def test_ends_and_openings_come_in_their_order_along_the_tube():
    tube = Tube(Section.box(40, 40, 3, 6), 300, end=Mitre(30), openings=(Hole(200, 10), Hole(50, 12), Slot(120, 30, 8)))
    shape = shape_of(tube_solid(tube))
    assert [opening.middle[0] for opening in shape.openings] == pytest.approx([50, 120, 200])
    assert shape.start.outer.middle[0] < shape.end.outer.middle[0]
    assert (shape.start.is_square, shape.end.is_square) == (True, False)


def test_a_square_cut_does_not_lean_and_a_mitre_leans_by_its_angle():
    section = Section.box(40, 40, 3, 6)
    assert shape_of(tube_solid(Tube(section, 300, openings=(Hole(100, 10),)))).lean_of_ends == pytest.approx(0.0)
    shape = shape_of(tube_solid(Tube(section, 300, start=Mitre(30), openings=(Hole(150, 10),))))
    assert shape.lean_of_ends == pytest.approx(30.0)
    assert shape.lean_of_openings == pytest.approx(0.0, abs=1e-6)


def test_a_hole_drilled_off_the_middle_of_round_tube_leans_more():
    section = Section.round(48.3, 3)
    # Source: by hand: the wall of a hole stands asin(distance from the middle / R) askew at its furthest point
    on_axis = shape_of(tube_solid(Tube(section, 200, openings=(Hole(100, 12),))))
    beside = shape_of(tube_solid(Tube(section, 200, openings=(Hole(100, 12, offset=8),))))
    assert on_axis.lean_of_openings == pytest.approx(math.degrees(math.asin(6 / 24.15)), abs=0.05)
    assert beside.lean_of_openings == pytest.approx(math.degrees(math.asin(14 / 24.15)), abs=0.05)


def test_a_hollow_that_does_not_go_through_is_a_pocket():
    shape = shape_of(other_solids.tube_with_pocket())
    assert (len(shape.openings), len(shape.pockets)) == (0, 1)
    assert shape.pockets[0].middle[0] == pytest.approx(115.0)


def test_a_recess_inside_is_a_pocket_too():
    recess = other_solids.box(30, 8, 2, (100, -4, 16))
    shape = shape_of(other_solids.cut(tube_solid(Tube(Section.box(40, 40, 3, 6), 300)), recess))
    assert (len(shape.openings), len(shape.pockets)) == (0, 1)


def test_a_notched_and_coped_end_is_one_end():
    notches = tuple(Window(0, 40, 10, towards) for towards in (0, 90, 180, 270))
    shape = shape_of(tube_solid(Tube(Section.box(60, 60, 3, 6), 300, end=Cope(90), openings=notches)))
    assert (len(shape.openings), len(shape.pockets)) == (0, 0)
    assert not shape.start.is_square


def test_a_knife_edge_where_outer_and_inner_surface_meet_is_an_end():
    # A cope of the tube's own inner diameter cuts its sides to an edge without any thickness.
    section = Section.round(48.3, 3)
    shape = shape_of(tube_solid(Tube(section, 200, end=Cope(48.3))))
    assert len(shape.openings) == 0
    assert shape.section.length == pytest.approx(200, abs=1e-3)


def test_two_openings_that_run_into_each_other_are_one():
    shape = shape_of(tube_solid(Tube(Section.box(60, 60, 3, 6), 300, openings=(Hole(100, 20), Hole(110, 20)))))
    assert len(shape.openings) == 1


def test_more_metal_than_the_section_allows_is_refused():
    measured = measure(tube_solid(Tube(Section.box(40, 40, 3, 6), 300)))
    object.__setattr__(measured, "volume", measured.volume * 1.01)
    with pytest.raises(NotATube, match="holds more metal"):
        tube_shape(measured)


def test_a_solid_with_a_face_missing_is_refused():
    measured = measure(tube_solid(Tube(Section.box(40, 40, 3, 6), 300)))
    *edges, last = measured.edges
    broken = Solid(measured.faces, (*edges, Edge(last.points, last.length, last.faces[:1])), measured.volume)
    with pytest.raises(NotATube, match="is not a closed solid"):
        tube_shape(broken)


def test_rings_of_metal_that_are_hardly_there_are_no_tube():
    windows = tuple(Window(60, 116, 46, towards, both_walls=True) for towards in (0, 90))
    with pytest.raises(NotATube, match=r"has only 2\d% of the outer surface"):
        shape_of(tube_solid(Tube(Section.box(60, 60, 3, 0), 120, openings=windows)))
