"""The polygons that the checker measures: they enclose the true metal, and lie where a placement says."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from nesting.geometry.contour import Contour
from nesting.model.nest import Placement
from nesting.model.part import SheetPart
from nesting.verify.metal import COARSE, FINE, MetalOfParts, outline_polygon
from tests.nest_again import metal as metal_again
from tests.shop_parts import L_REMNANT, flange, frame, link, plate, rounded, triangle

PARTS = (plate("plate", 180.0, 120.0), flange("flange", 160.0, 88.9), link("link", 240.0, 40.0), frame("f", 90, 60, 9))


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.name)
@pytest.mark.parametrize("height", [COARSE, FINE])
def test_the_polygon_holds_all_the_metal_and_little_more(part, height):
    polygon = MetalOfParts(PARTS).placed(Placement(part.name, 0.0, 0.0), height)
    # Source: the part's own area by closed formula, tested in tests/nesting/geometry.
    assert part.area <= polygon.area * (1.0 + 1e-12)
    assert polygon.area - part.area <= height * part.cut_length
    # With 3600 chords a turn the bores are left by less than 20 nm.
    true = metal_again(part, Placement(part.name, 0.0, 0.0), per_turn=3600)
    assert (true - polygon).area <= 2e-5 * part.cut_length


def test_a_circle_reaches_out_by_the_height_at_most_and_a_bore_in():
    ring = MetalOfParts([flange("ring", 100.0, 40.0, bolts=0)])
    for height in (COARSE, FINE):
        polygon = ring.placed(Placement("ring", 0.0, 0.0), height)
        far = [math.hypot(x, y) for x, y in polygon.exterior.coords]
        near = [math.hypot(x, y) for x, y in polygon.interiors[0].coords]
        # Source: by hand, the circles have radii of 50 and 20 mm; chords lie outside the one and inside the other.
        assert 50.0 <= max(far) <= 50.0 + height
        assert Polygon(polygon.exterior).exterior.distance(Point(0.0, 0.0)) >= 50.0 - 1e-9
        assert max(near) <= 20.0 + 1e-9
        assert polygon.interiors[0].distance(Point(0.0, 0.0)) >= 20.0 - height


def test_mirrored_turned_then_shifted():
    # Source: by hand, (30, 0) mirrored is (-30, 0), turned by 90 degrees (0, -30), shifted by (5, 7) is (5, -23).
    corner = MetalOfParts([triangle("t", 30.0, 10.0)])
    polygon = corner.placed(Placement("t", 5.0, 7.0, 90.0, mirrored=True), FINE)
    found = {(round(x, 9), round(y, 9)) for x, y in polygon.exterior.coords}
    assert found == {(5.0, 7.0), (5.0, -23.0), (-5.0, 7.0)}


placements = st.builds(
    Placement,
    st.sampled_from([part.name for part in PARTS]),
    st.floats(-3000.0, 3000.0),
    st.floats(-3000.0, 3000.0),
    st.floats(-360.0, 360.0) | st.sampled_from([0.0, 90.0, 180.0, 270.0]),
    st.booleans(),
)


@given(st.lists(placements, min_size=1, max_size=6), st.sampled_from([COARSE, FINE]))
def test_many_at_once_are_the_same_as_one_by_one(row, height):
    metal = MetalOfParts(PARTS)
    for shape, placement in zip(metal.all_placed(row, height), row, strict=True):
        assert shape.equals_exact(metal.placed(placement, height), 1e-9)


@given(placements)
@settings(max_examples=30)
def test_it_lies_where_plain_arithmetic_puts_it(placement):
    # Source: tests/nest_again.py, a second way of placing that shares no code.
    part = next(part for part in PARTS if part.name == placement.part)
    ours = MetalOfParts(PARTS).placed(placement, FINE)
    assert ours.hausdorff_distance(metal_again(part, placement, per_turn=720)) < 2e-3 + FINE


def test_no_placements_make_no_shapes():
    assert len(MetalOfParts(PARTS).all_placed([], FINE)) == 0


def test_a_narrow_slot_that_coarse_chords_would_close_is_measured_finely():
    # Two arcs 0.02 mm apart: chords that leave their arc by up to 0.05 mm cross.
    slot = Contour(((20.0, 50.0, 0.9), (80.0, 50.0, 0.0), (79.98, 50.0, -0.9), (20.02, 50.0, 0.0)))
    part = SheetPart("slotted", rounded(100.0, 100.0, 5.0), (slot,))
    metal = MetalOfParts([part])
    assert metal.fault_of("slotted") is None
    coarse = metal.placed(Placement("slotted", 0.0, 0.0), COARSE)
    assert coarse.is_valid
    assert coarse.area - part.area <= FINE * part.cut_length


@pytest.mark.parametrize(
    ("part", "word"),
    [
        (SheetPart("bow", Contour(((0, 0, 0), (100, 100, 0), (100, 0, 0), (0, 60, 0)))), "Self-intersection"),
        (
            SheetPart("lost hole", Contour.rectangle(50.0, 50.0), (Contour.circle(200.0, 200.0, 5.0),)),
            "Hole lies outside",
        ),
        (
            SheetPart("two", Contour.rectangle(50, 50), (Contour.circle(20, 25, 8), Contour.circle(28, 25, 8))),
            "Self-intersection",
        ),
    ],
    ids=["crossing itself", "hole outside", "holes that cross"],
)
def test_a_part_that_is_no_proper_piece_is_told_why(part, word):
    assert word in MetalOfParts([part]).fault_of(part.name)


def test_a_proper_part_has_no_fault():
    metal = MetalOfParts(PARTS)
    assert [metal.fault_of(part.name) for part in PARTS] == [None] * len(PARTS)


def test_the_area_of_a_sheet_lies_within_it():
    # Source: by hand, 900 x 800 less 600 x 400 mm; a disc of 300 mm radius has pi x 300^2 mm2.
    assert outline_polygon(L_REMNANT).area == pytest.approx(480_000.0)
    disc = outline_polygon(Contour.circle(0.0, 0.0, 300.0))
    assert 0.0 <= math.pi * 300.0**2 - disc.area <= FINE * 2.0 * math.pi * 300.0
    assert max(math.hypot(x, y) for x, y in disc.exterior.coords) <= 300.0 + 1e-9
    assert outline_polygon(L_REMNANT.reversed()).equals(outline_polygon(L_REMNANT))
