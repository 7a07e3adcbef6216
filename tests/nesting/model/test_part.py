import math

import pytest
from hypothesis import given
from shapely.geometry import Polygon

from nesting.errors import BadValue
from nesting.geometry.contour import Contour
from nesting.model.part import SheetPart, TubePart
from nesting.model.section import Section
from tests.strategies import rings, sheet_parts

BOX = Section.box(40, 40, 3, 6)


def test_contours_are_turned_to_their_right_direction():
    part = SheetPart("plate", Contour.rectangle(10, 5).reversed(), (Contour.circle(5, 2, 1),))
    assert part.outer.is_anticlockwise
    assert not part.holes[0].is_anticlockwise


@given(rings())
def test_turning_a_contour_round_keeps_its_area_and_length(ring):
    one, other = SheetPart("a", ring), SheetPart("a", ring.reversed())
    assert other.area == pytest.approx(one.area)
    assert other.cut_length == pytest.approx(one.cut_length)


def test_area_cut_length_and_pierces_of_a_flange():
    part = SheetPart("flange", Contour.circle(0, 0, 60), (Contour.circle(0, 0, 25), Contour.circle(40, 0, 4)))
    # Source: by hand, pi r² and 2 pi r.
    assert part.area == pytest.approx(math.pi * (60**2 - 25**2 - 4**2))
    assert part.cut_length == pytest.approx(2 * math.pi * (60 + 25 + 4))
    assert part.pierce_count == 3


@given(sheet_parts())
def test_the_area_is_that_of_an_independent_library(part):
    metal = Polygon(part.outer.polygon(1e-4), [hole.polygon(1e-4) for hole in part.holes])
    assert part.area == pytest.approx(metal.area, rel=1e-4)


def test_the_mass_of_a_sheet_part_is_area_times_thickness_times_density():
    part = SheetPart("plate", Contour.rectangle(2000, 1000))
    # Source: EN 10029 and EN 10051 use 7.85 kg/dm³ for steel: 2 m² of 3 mm weigh 47.1 kg.
    assert part.mass(3.0, 7850.0) == pytest.approx(47.1)


def test_marks_count_neither_as_cut_nor_as_pierce():
    plain = SheetPart("plate", Contour.rectangle(100, 50))
    marked = SheetPart("plate", Contour.rectangle(100, 50), (), (Contour.circle(50, 25, 5),))
    assert (marked.cut_length, marked.pierce_count) == (plain.cut_length, plain.pierce_count)


def test_a_tube_part_without_volume_weighs_its_plain_length():
    # Source: EN 10219-2, 40 x 40 x 3: 3.30 kg/m (table values round to two places).
    assert TubePart("post", BOX, 1000.0).mass(7850.0) == pytest.approx(3.30, abs=0.005)


def test_a_tube_part_with_volume_weighs_what_it_holds():
    assert TubePart("post", BOX, 1000.0, metal_volume=100_000.0).mass(7850.0) == pytest.approx(0.785)


def test_a_tube_part_has_one_pierce_for_its_end_and_one_for_each_opening():
    assert TubePart("post", BOX, 1000.0, hole_count=3).pierce_count == 4


@pytest.mark.parametrize("length", [0.0, -1.0, math.nan, math.inf])
def test_a_tube_part_has_a_length(length):
    with pytest.raises(BadValue, match="TubePart: the length must be above 0"):
        TubePart("post", BOX, length)


def test_parts_have_names():
    with pytest.raises(BadValue, match="SheetPart: the name is empty"):
        SheetPart("", Contour.rectangle(1, 1))
    with pytest.raises(BadValue, match="TubePart: the name is empty"):
        TubePart("", BOX, 1.0)


def test_counts_and_lengths_are_not_negative():
    with pytest.raises(BadValue, match="cannot be negative"):
        TubePart("post", BOX, 1.0, hole_count=-1)
    with pytest.raises(BadValue, match="cannot be negative"):
        TubePart("post", BOX, 1.0, cut_length=-0.5)
