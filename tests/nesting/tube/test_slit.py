"""Tubes that are slit from end to end are tubes with a slit, not open profiles."""

import math

import pytest

from nesting.model.section import Section
from nesting.model.tube_cuts import CutOutKind, EndKind
from nesting.tube.measuring import measure
from nesting.tube.recognise import recognise
from nesting.tube.tube_shape import NotATube, tube_shape
from nesting.tube.tube_solids import Hole, Mitre, Tube, Window, tube_solid

SQUARE, ROUND = Section.box(40, 40, 3, 6), Section.round(48.3, 3)


def part_of(tube):
    return recognise(measure(tube_solid(tube)), "leg")[0]


@pytest.mark.parametrize("section", [SQUARE, ROUND, Section.box(60, 40, 3, 6)], ids=str)
@pytest.mark.parametrize("width", [0.5, 4.0])
def test_section_ends_and_slit_come_out_as_they_were_made(section, width):
    part = part_of(Tube(section, 500, openings=(Window(250, 600, width, 90),)))
    assert part.section.metal_area == pytest.approx(section.metal_area, abs=1e-6)
    assert [end.kind for end in part.ends] == [EndKind.SQUARE, EndKind.SQUARE]
    (slit,) = part.cut_outs
    # Source: by hand; on a round tube two parallel cuts a width w apart are 2 R asin(w / 2R) apart round the outside.
    radius = section.height / 2
    way = 2 * radius * math.asin(width / 2 / radius) if section is ROUND else width
    assert (slit.kind, slit.length, slit.width) == (CutOutKind.SLIT, 500.0, pytest.approx(way, abs=1e-5))
    for end in part.ends:
        assert end.path.vertices[-1][1] - end.path.vertices[0][1] == pytest.approx(section.girth, abs=1e-6)
    # Both ends once round, and both sides of the slit.
    assert part.cut_length == pytest.approx(2 * section.girth + 2 * (500 + way), abs=1e-3)


def test_mitres_and_holes_beside_a_slit_are_read_too():
    tube = Tube(SQUARE, 500, start=Mitre(45, 90), end=Mitre(30, 270), openings=(Window(250, 700, 3, 0), Hole(250, 9)))
    part = part_of(tube)
    assert sorted(end.angle for end in part.ends) == pytest.approx([30, 45], abs=1e-6)
    assert {cut.kind for cut in part.cut_outs} == {CutOutKind.SLIT, CutOutKind.ROUND}


@pytest.mark.parametrize(("section", "width"), [(SQUARE, 12.0), (ROUND, 30.0)])
def test_what_is_wider_than_a_slit_is_refused(section, width):
    solid = measure(tube_solid(Tube(section, 500, openings=(Window(250, 600, width, 90),))))
    with pytest.raises(NotATube, match="wider than a third") as caught:
        tube_shape(solid)
    assert caught.value.code == "slit"


def test_a_slit_that_a_hole_breaks_is_refused_and_not_misread():
    solid = measure(tube_solid(Tube(SQUARE, 500, openings=(Window(250, 600, 3, 90), Hole(200, 12, 90)))))
    with pytest.raises(NotATube, match="not straight"):
        tube_shape(solid)
