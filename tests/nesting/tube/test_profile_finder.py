import numpy as np
import pytest

from nesting.model.section import Section, SectionShape
from nesting.tube.found_section import BarSection, HollowSection
from nesting.tube.measuring import measure
from nesting.tube.profile_finder import find_profile
from nesting.tube.section_finder import faces_along
from nesting.tube.tube_solids import Hole, Mitre, Placement, Slot, Tube, Window, tube_solid
from tests import other_solids
from tests.steel_tables import PROFILES

LENGTH = 1e-6

BARS = [
    Section.oval(60, 30, 2),
    Section.angle(60, 40, 5, 6, 3),
    Section.angle(50, 50, 5),
    Section.angle(50, 50, 3, 3, 0, 6),
    Section.channel(100, 50, 5, 8.5, 9),
    Section.channel(40, 60, 4, 4, 4, 0, 8),
    Section.channel(40, 40, 3, 3),
    Section.i_beam(100, 55, 4.1, 5.7, 7),
    Section.i_beam(96, 100, 5, 8, 12),
    Section.tee(50, 60, 5, 6, 4, 2),
    Section.tee(60, 50, 5, 5),
    Section.bar(50, 8),
    Section.bar(50, 10, 1),
    Section.bar(30, 30),
    Section.round_bar(20),
]


def found(solid):
    measured = measure(solid)
    return find_profile(measured, faces_along(measured))


def same(section, other):
    measures = ("height", "width", "wall", "corner_radius", "flange", "root_radius", "toe_radius")
    return section.shape is other.shape and all(
        abs(getattr(section, m) - getattr(other, m)) <= LENGTH for m in measures
    )


@pytest.mark.parametrize("section", BARS, ids=str)
@pytest.mark.parametrize("turn", [((1, 0, 0), 0), ((1, 0, 0), 90), ((0, 0, 1), 180), ((1, 2, 3), 77)])
def test_every_section_is_found_however_it_lies(section, turn):
    tube = Tube(section, 400, placement=Placement(*turn, (10, -20, 30)))
    piece = found(tube_solid(tube))
    assert isinstance(piece, HollowSection if section.shape is SectionShape.OVAL else BarSection)
    assert same(piece.section, section)
    assert piece.length == pytest.approx(400, abs=LENGTH)
    assert np.allclose(piece.frame.axes @ piece.frame.axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(piece.frame.axes) == pytest.approx(1.0)


@pytest.mark.parametrize("row", PROFILES, ids=str)
def test_profiles_of_the_tables_are_found_with_their_radii(row):
    assert same(found(tube_solid(Tube(row[0], 700))).section, row[0])


@pytest.mark.parametrize("section", BARS, ids=str)
def test_mitres_and_openings_hide_no_section(section):
    openings = (Hole(200, 4, both_walls=True), Hole(150, 4, 0, both_walls=True), Slot(280, 30, 3, 0, both_walls=True))
    tube = Tube(section, 500, start=Mitre(40, 90), end=Mitre(30, 0), openings=openings)
    assert same(found(tube_solid(tube)).section, section)


@pytest.mark.parametrize("change", [other_solids.free_form, other_solids.mirrored, other_solids.split_at_quarters])
@pytest.mark.parametrize("section", BARS, ids=str)
def test_sections_are_found_however_the_solid_is_written(section, change):
    assert same(found(change(tube_solid(Tube(section, 300)))).section, section)


def test_a_notched_toe_keeps_the_outline():
    notch = Window(150, 40, 60, towards=90)
    piece = found(tube_solid(Tube(Section.angle(60, 40, 5, 6, 3), 300, openings=(notch,))))
    assert same(piece.section, Section.angle(60, 40, 5, 6, 3))


@pytest.mark.parametrize("kind", ["zed", "lipped_channel", "hexagonal_tube", "casting", "plate", "block", "disc"])
def test_what_has_another_section_is_not_forced_into_one(kind):
    piece = found(getattr(other_solids, kind)())
    assert (
        piece is None or piece.section.metal_area * piece.length > 1.2 * measure(getattr(other_solids, kind)()).volume
    )


def test_tapered_flanges_are_no_parallel_ones():
    half = [(25, -50), (25, -45), (3, -42), (3, 42), (25, 45), (25, 50)]
    tapered = other_solids.prism([*half, *((-y, z) for y, z in reversed(half))], 600)
    assert found(tapered) is None


@pytest.mark.parametrize(("width", "thick", "length"), [(160, 8, 2000), (50, 2.9, 500), (50, 8, 240)])
def test_what_is_rather_a_plate_is_no_flat_bar(width, thick, length):
    assert found(other_solids.box(length, width, thick)) is None
