import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, box

from nesting.errors import BadValue
from nesting.model.section import Section, SectionShape
from nesting.records.parts import section_from_record, section_to_record
from tests.steel_tables import ALL_ROWS, STEEL_KG_M3, is_as_printed


@pytest.mark.parametrize(("section", "mass", "area"), ALL_ROWS, ids=str)
def test_a_section_has_the_printed_mass_and_area(section, mass, area):
    assert is_as_printed(section.mass(1000.0, STEEL_KG_M3), mass)
    assert is_as_printed(section.metal_area / 100.0, area)


def test_a_hot_finished_section_is_not_the_cold_formed_one_of_the_same_size():
    # Source: EN 10219-2 gives 6.95 cm² for 50x50x4, EN 10210-2 gives 7.19 cm²
    cold = Section.box(50.0, 50.0, 4.0, 8.0)
    hot = Section.box(50.0, 50.0, 4.0, 6.0, 4.0)
    assert round(cold.metal_area / 100.0, 2) == 6.95
    assert round(hot.metal_area / 100.0, 2) == 7.19
    assert hot.inner_radius == 4.0
    assert cold.inner_radius == 4.0


@given(
    height=st.floats(20, 300),
    slim=st.floats(0.3, 1.0),
    thin=st.floats(0.01, 0.2),
    round_off=st.floats(0.0, 0.5),
    inner_round=st.none() | st.floats(0.0, 0.5),
)
def test_area_and_girth_agree_with_polygons(height, slim, thin, round_off, inner_round):
    width, wall = height * slim, height * slim * thin
    outer_radius = width * round_off
    inner_radius = None if inner_round is None else (width - 2 * wall) * inner_round
    if inner_radius is not None and (outer_radius - inner_radius) * (math.sqrt(2) - 1) > 0.9 * wall * math.sqrt(2):
        inner_radius = None
    section = Section.box(height, width, wall, outer_radius, inner_radius)

    def rounded(across, along, radius):
        ring = box(radius, radius, across - radius, along - radius)
        if min(across, along) - 2 * radius < 1e-6:
            ring = LineString([(radius, radius), (across - radius, along - radius)])
        return ring.buffer(radius, quad_segs=400) if radius > 1e-9 else ring

    outer = rounded(width, height, outer_radius)
    inner = rounded(width - 2 * wall, height - 2 * wall, section.inner_radius)
    assert section.metal_area == pytest.approx(outer.area - inner.area, rel=1e-3, abs=1e-3)
    assert section.girth == pytest.approx(outer.length, rel=1e-4)


def test_round_tube_is_the_ring_between_two_circles():
    section = Section.round(48.3, 3.0)
    assert section.metal_area == pytest.approx(math.pi / 4.0 * (48.3**2 - 42.3**2))  # Source: two circles
    assert section.girth == pytest.approx(math.pi * 48.3)
    assert (section.corner_radius, section.inner_radius) == (0.0, 0.0)


def test_an_inner_radius_that_is_the_outer_less_the_wall_is_not_kept_apart():
    assert Section.box(60, 40, 3, 6, 3) == Section.box(60, 40, 3, 6)
    assert Section.box(60, 40, 3, 2, 0) == Section.box(60, 40, 3, 2)
    assert Section.box(60, 40, 3, 4.5, 3) != Section.box(60, 40, 3, 4.5)


def test_height_is_the_longer_side_whichever_comes_first():
    section = Section.box(40, 60, 3, 6)
    assert (section.shape, section.height, section.width) == (SectionShape.RECTANGULAR, 60, 40)
    assert str(section) == "rectangular 60 x 40 x 3"
    assert str(Section.round(48.3, 3.2)) == "round 48.3 x 3.2"


@pytest.mark.parametrize(
    ("build", "message"),
    [
        (lambda: Section.box(40, 0, 2, 4), "above 0"),
        (lambda: Section.box(40, float("nan"), 2, 4), "above 0"),
        (lambda: Section.box(float("nan"), 40, 2, 4), "above 0"),
        (lambda: Section.box(40, 40, 20, 4), "leaves no inside"),
        (lambda: Section.round(40, 25), "leaves no inside"),
        (lambda: Section.box(40, 30, 2, 15.1), "does not fit"),
        (lambda: Section.box(40, 30, 2, -1), "does not fit"),
        (lambda: Section.box(40, 30, 2, 4, 13.1), "inner corner radius of 13.1 mm does not fit"),
        (lambda: Section.box(40, 30, 2, 4, -1), "inner corner radius"),
        (lambda: Section.box(40, 30, 2, 8, 0), "leave no wall"),
        (lambda: Section(SectionShape.SQUARE, 40, 30, 2), "is not square"),
        (lambda: Section(SectionShape.RECTANGULAR, 40, 40, 2), "is not rectangular"),
        (lambda: Section(SectionShape.RECTANGULAR, 30, 40, 2), "longer outside measure"),
        (lambda: Section(SectionShape.ROUND, 40, 40, 2, 4), "no corner radius"),
        (lambda: Section(SectionShape.ROUND, 40, 40, 2, 0, 3), "no inner corner radius"),
    ],
)
def test_a_section_that_cannot_be_is_refused(build, message):
    with pytest.raises(BadValue, match=message):
        build()


@pytest.mark.parametrize(
    "section",
    [Section.round(48.3, 3), Section.box(60, 40, 4, 8), Section.box(50, 50, 4, 6, 4), Section.box(9, 9, 1, 0)],
)
def test_a_section_survives_its_record(section):
    assert section_from_record(section_to_record(section)) == section


def test_the_record_names_an_inner_radius_only_where_it_is_its_own():
    assert section_to_record(Section.box(50, 50, 4, 6, 4)) == {
        "shape": "square",
        "height_mm": 50,
        "width_mm": 50,
        "wall_mm": 4,
        "corner_radius_mm": 6,
        "inner_radius_mm": 4,
    }
    assert "inner_radius_mm" not in section_to_record(Section.box(50, 50, 4, 8))
