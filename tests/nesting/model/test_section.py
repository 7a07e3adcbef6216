import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, box

from nesting.errors import BadValue
from nesting.model.section import Section, SectionShape
from nesting.records.parts import section_from_record, section_to_record
from tests.steel_tables import ALL_ROWS, PROFILES, STEEL_KG_M3, is_as_printed


@pytest.mark.parametrize(("section", "mass", "area"), ALL_ROWS, ids=str)
def test_a_section_has_the_printed_mass_and_area(section, mass, area):
    assert is_as_printed(section.mass(1000.0, STEEL_KG_M3), mass)
    assert is_as_printed(section.metal_area / 100.0, area)


@pytest.mark.parametrize("row", PROFILES, ids=str)
def test_an_open_profile_has_the_printed_mass_area_and_surface(row):
    section, mass, area, *surface = row
    assert is_as_printed(section.mass(1000.0, STEEL_KG_M3), mass)
    assert is_as_printed(section.metal_area / 100.0, area)
    assert not surface or is_as_printed(section.girth / 1000.0, surface[0])


def test_solid_bars_and_ovals_have_the_areas_of_the_formulas():
    # Source: by hand
    assert Section.bar(50, 8).metal_area == pytest.approx(400)
    assert Section.bar(50, 8).girth == pytest.approx(116)
    assert Section.bar(30, 30, 2).metal_area == pytest.approx(900 - (4 - math.pi) * 4)
    assert Section.round_bar(20).metal_area == pytest.approx(math.pi * 100)
    assert Section.round_bar(20).girth == pytest.approx(math.pi * 20)
    oval = Section.oval(60, 30, 2)
    assert oval.metal_area == pytest.approx(30 * 30 + math.pi * 225 - 30 * 26 - math.pi * 169)
    assert oval.girth == pytest.approx(60 + math.pi * 30)
    # Source: by hand: a strip of 3 mm bent once, its middle line 2 x 44 mm and a quarter of 4.5 mm
    assert Section.angle(50, 50, 3, 3, 0, 6).metal_area == pytest.approx(3 * (88 + 4.5 * math.pi / 2))
    assert Section.channel(100, 50, 4, 4, 4, 0, 8).metal_area == pytest.approx(4 * (2 * 42 + 84 + 6 * math.pi))
    assert Section.tee(50, 40, 5, 6).metal_area == pytest.approx(40 * 6 + 44 * 5)


SHAPES = [
    Section.box(60, 40, 3, 6),
    Section.box(50, 50, 4, 6, 4),
    Section.round(48.3, 3),
    Section.oval(60, 30, 2),
    Section.angle(60, 40, 5, 6, 3),
    Section.angle(50, 50, 3, 3, 0, 6),
    Section.channel(100, 50, 5, 8.5, 9),
    Section.channel(40, 60, 4, 4, 4, 0, 8),
    Section.i_beam(96, 100, 5, 8, 12),
    Section.tee(50, 60, 5, 6, 4, 2),
    Section.bar(50, 8, 1),
    Section.bar(30, 30),
    Section.round_bar(20),
]


@pytest.mark.parametrize("section", SHAPES, ids=str)
def test_the_outlines_hold_the_area_girth_and_measures(section):
    outer, *inner = section.outlines
    assert outer.is_anticlockwise
    assert outer.area - sum(ring.area for ring in inner) == pytest.approx(section.metal_area, rel=1e-12)
    assert outer.length == pytest.approx(section.girth, rel=1e-12)
    assert (outer.bounds.width, outer.bounds.height) == pytest.approx((section.width, section.height))
    assert outer.bounds.left == pytest.approx(-section.width / 2)
    assert outer.bounds.bottom == pytest.approx(-section.height / 2)


def test_every_shape_says_its_measures():
    assert [str(section) for section in SHAPES] == [
        "rectangular 60 x 40 x 3",
        "square 50 x 50 x 4",
        "round 48.3 x 3",
        "oval 60 x 30 x 2",
        "angle 60 x 40 x 5",
        "angle 50 x 50 x 3",
        "channel 100 x 50 x 5 x 8.5",
        "channel 40 x 60 x 4 x 4",
        "I-beam 96 x 100 x 5 x 8",
        "tee 50 x 60 x 5 x 6",
        "flat bar 50 x 8",
        "square bar 30",
        "round bar 20",
    ]


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
        (lambda: Section(SectionShape.OVAL, 60, 30, 2, 10), "half the width"),
        (lambda: Section.oval(30, 30, 2), "is not oval"),
        (lambda: Section(SectionShape.FLAT_BAR, 50, 8, 4), "wall of solid flat bar is its width"),
        (lambda: Section(SectionShape.ROUND_BAR, 20, 20, 20, 1), "a round bar has no corner radius"),
        (lambda: Section(SectionShape.ANGLE, 50, 40, 4, 0, 2), "angle has no inner corner radius"),
        (lambda: Section(SectionShape.ANGLE, 50, 40, 4, flange=5), "flange of 5 mm does not belong to angle"),
        (lambda: Section(SectionShape.CHANNEL, 50, 40, 4), "flange of 0.0 mm does not belong to channel"),
        (lambda: Section(SectionShape.SQUARE, 50, 50, 4, flange=4), "neither flanges nor roots"),
        (lambda: Section.channel(50, 40, 4, 26), "leave no room"),
        (lambda: Section.angle(50, 40, 45), "leave no room"),
        (lambda: Section.angle(50, 40, 4, 40), "leave no room"),
        (lambda: Section.i_beam(50, 40, 4, 5, -1), "below 0"),
        (lambda: Section.tee(50, 40, 4, 5, 0, 6), "do not fit"),
        (lambda: Section.angle(50, 50, 3, 0, 0, 12), "leaves no wall"),
        (lambda: Section.angle(50, 50, 3, float("nan")), "above 0"),
    ],
)
def test_a_section_that_cannot_be_is_refused(build, message):
    with pytest.raises(BadValue, match=message):
        build()


@pytest.mark.parametrize(
    "section",
    [*SHAPES, Section.box(60, 40, 4, 8), Section.box(9, 9, 1, 0)],
    ids=str,
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
