"""Random parts, written by a DXF library in every version and manner, come back as the same parts."""

import math
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from nesting.geometry.contour import Contour
from nesting.geometry.placing import placed
from nesting.model.part import SheetPart
from nesting.units import JOIN, JOIN_WIDE
from tests.drawings import MANNERS, VERSIONS, add_ring, as_bytes, codes, draw_part, drawing, findings, parts, read

randoms = st.randoms(use_true_random=False)


def metal(part, x=0.0, y=0.0):
    """The part as a shapely polygon of fine chords."""
    shape = placed(part.outer, x, y)
    return Polygon(shape.polygon(1e-4), [placed(hole, x, y).polygon(1e-4) for hole in part.holes])


def assert_same_part(found, drawn, tolerance=1e-6):
    # Source: shapely on the part as it was drawn; and its closed formulas, tested in tests/nesting/geometry.
    assert len(found.holes) == len(drawn.holes)
    assert found.area == pytest.approx(drawn.area, abs=tolerance * drawn.cut_length)
    assert found.cut_length == pytest.approx(drawn.cut_length, rel=1e-6, abs=tolerance)
    assert (found.bounds.left, found.bounds.bottom) == pytest.approx((0.0, 0.0), abs=1e-9)
    bounds = drawn.bounds
    edges = metal(found, bounds.left, bounds.bottom).boundary
    assert edges.hausdorff_distance(metal(drawn).boundary) < max(2e-3, 2.0 * tolerance)


@pytest.mark.slow
@given(parts(), st.sampled_from(VERSIONS), st.sampled_from(MANNERS), st.booleans(), randoms)
@settings(max_examples=60, deadline=None)
def test_a_part_comes_back_however_it_was_drawn(part, version, manner, binary, random):
    # R12 has no splines.
    manner = "loose" if (version, manner) == ("R12", "splines") else manner
    document = draw_part(part, version, manner, random)
    reading = read(as_bytes(document, binary=binary), unit="mm" if version == "R12" else "")
    assert reading.kind == "sheet", reading.findings
    (found,) = reading.parts
    assert_same_part(found, part, 1e-3 if manner == "splines" else 1e-6)
    assert ("drawn-twice" in codes(reading)) == (manner == "doubled")


@pytest.mark.slow
@given(st.lists(parts(), min_size=2, max_size=3), randoms)
@settings(max_examples=15, deadline=None)
def test_several_parts_come_back_from_left_to_right(drawn, random):
    document, space = drawing()
    side_by_side = []
    for k, part in enumerate(drawn):
        x, y = 300.0 * k - part.bounds.left, -part.bounds.bottom
        side_by_side.append(
            SheetPart("part", placed(part.outer, x, y), tuple(placed(hole, x, y) for hole in part.holes))
        )
    for part in random.sample(side_by_side, len(side_by_side)):
        for ring in (part.outer, *part.holes):
            add_ring(space, ring, random.choice(["whole", "loose", "split"]), random)
    reading = read(document, "gate hinge.dxf")
    assert [part.name for part in reading.parts] == [f"gate hinge-{k + 1}" for k in range(len(drawn))]
    for found, part in zip(reading.parts, side_by_side, strict=True):
        assert_same_part(found, part)


@given(parts(), st.sampled_from([1, 2, 5, 6]), randoms)
@settings(max_examples=15, deadline=None)
def test_other_units_come_out_in_millimetres(part, unit, random):
    document = draw_part(part, "R2010", "whole", random)
    document.header["$INSUNITS"] = unit
    # Source: inch and foot by definition (25.4 mm, 12 inches), cm and m by SI.
    mm = {1: 25.4, 2: 304.8, 5: 10.0, 6: 1000.0}[unit]
    reach = max(map(abs, (part.bounds.left, part.bounds.bottom, part.bounds.right, part.bounds.top)))
    reading = read(document)
    if reach * mm > 1e6:
        assert codes(reading)[0] == "bad-coordinate"
        return
    assert reading.parts[0].area == pytest.approx(part.area * mm * mm, rel=1e-6)
    assert findings(reading, "unit-doubtful")


@pytest.mark.slow
@given(parts(), st.floats(1e-5, 0.9 * JOIN), randoms)
@settings(max_examples=30, deadline=None)
def test_gaps_below_the_joining_tolerance_are_closed_and_told(part, gap, random):
    document = draw_part(part, "R2010", "loose", random)
    angle = random.uniform(0.0, 2.0 * math.pi)
    moved = random.choice([entity for entity in document.modelspace() if entity.dxftype() in ("LINE", "ARC")])
    moved.translate(gap * math.cos(angle), gap * math.sin(angle), 0.0)
    reading = read(document)
    assert reading.kind == "sheet", reading.findings
    (joined,) = findings(reading, "joined")
    assert joined.message.startswith("2 gaps between line ends were closed; the largest was ")
    found = reading.parts[0]
    assert len(found.holes) == len(part.holes)
    assert found.area == pytest.approx(part.area, abs=2.0 * gap * part.cut_length)


@pytest.mark.slow
# Rounding may put a gap of just what is joined on either side.
@given(parts(), st.floats(1.01 * JOIN, 0.99 * JOIN_WIDE) | st.floats(1.01 * JOIN_WIDE, 3.0), randoms)
@settings(max_examples=30, deadline=None)
def test_wider_gaps_are_refused_with_both_places(part, gap, random):
    document, space = drawing()
    for ring in part.holes:
        add_ring(space, ring, "whole", random)
    add_ring(space, part.outer, "loose", random)
    lines = [entity for entity in space if entity.dxftype() == "LINE"]
    if not lines:
        return
    moved = random.choice(lines)
    ends = [tuple(moved.dxf.start)[:2], tuple(moved.dxf.end)[:2]]
    direction = moved.dxf.end - moved.dxf.start
    sideways = direction.orthogonal().normalize(gap)
    moved.translate(sideways.x, sideways.y, 0.0)
    reading = read(document)
    assert reading.kind == "refused"
    found = findings(reading, "small-gap" if gap <= 0.1 else "open-contour")
    assert len(found) == 2
    for end in ends:
        assert min(math.dist(end, finding.at) for finding in found) <= gap * 1.001
    assert all(("joined up to 0.1 mm" in finding.message) == (gap <= 0.1) for finding in found)
    assert (read(document, join=JOIN_WIDE).kind == "sheet") == (gap <= 0.1)


def test_the_same_drawing_gives_the_same_reading():
    outer = Contour(((0, 0, 0), (90, 0, 0.3), (90, 60, 0), (40, 60, -0.2), (0, 30, 0)))
    part = SheetPart("part", placed(outer, 17.0, 3.0))
    document = draw_part(part, "R2010", "split", Random(5))
    content = as_bytes(document)
    assert read(content) == read(content)
