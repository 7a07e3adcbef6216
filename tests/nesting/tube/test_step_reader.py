import math
import os
import random
import re
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ellipe

from nesting import sandbox_warm
from nesting.model.findings import Severity
from nesting.model.section import Section, SectionShape
from nesting.model.tube_cuts import CutOutKind
from nesting.records.parts import reading_from_record
from nesting.sandbox import Limits, run_in_child
from nesting.tube import step_reader
from nesting.tube.step_reader import read_step
from nesting.tube.step_writer import write_solids, write_tubes
from nesting.tube.tube_solids import Cope, Hole, Mitre, Placement, Slot, Tube, Window
from tests import other_solids
from tests.steel_tables import ALL_ROWS, PROFILES, STEEL_KG_M3, is_as_printed

LENGTH = 1e-6
"""How exact a measure comes back from a written file, in millimetres."""

TIMES = int(os.environ.get("TEST_TIMES", "1"))
"""How many times as much is tried by chance as in a usual run."""

MUTATIONS = 25 * TIMES

SECTIONS = [
    Section.box(40, 40, 3, 6),
    Section.box(60, 40, 4, 8),
    Section.box(50, 50, 4, 6, 4),
    Section.box(30, 20, 2, 0),
    Section.box(100, 50, 8, 20),
    Section.round(48.3, 3),
    Section.round(20, 1.5),
]

BARS = [
    Section.oval(60, 30, 2),
    Section.angle(60, 40, 5, 6, 3),
    Section.angle(50, 50, 3, 3, 0, 6),
    Section.channel(100, 50, 5, 8.5, 9),
    Section.i_beam(96, 100, 5, 8, 12),
    Section.tee(50, 60, 5, 6, 4, 2),
    Section.bar(50, 10, 1),
    Section.bar(30, 30),
    Section.round_bar(20),
]


def same(section, other):
    measures = ("height", "width", "wall", "corner_radius", "inner_radius", "flange", "root_radius", "toe_radius")
    return section.shape is other.shape and all(
        abs(getattr(section, name) - getattr(other, name)) <= LENGTH for name in measures
    )


def codes(reading):
    return [finding.code for finding in reading.findings]


def refused_with(reading, code, words=""):
    """The message of the only refusing finding; fails where there is another one or none."""
    blocking = [finding for finding in reading.findings if finding.severity is Severity.REFUSAL]
    assert reading.kind == "refused"
    assert [finding.code for finding in blocking] == [code]
    assert re.search(words, blocking[0].message), blocking[0].message
    assert blocking[0].message.endswith(".")


# --- what is right on hollow sections


@pytest.mark.slow
@pytest.mark.parametrize(("section", "mass", "area"), ALL_ROWS, ids=str)
def test_a_metre_of_a_standard_section_has_its_printed_mass_and_area(section, mass, area, read_back):
    # Source: the tables of EN 10219-2 and EN 10210-2 named in tests/steel_tables.py
    part = read_back(Tube(section, 1000.0)).parts[0]
    assert same(part.section, section)
    assert is_as_printed(part.mass(STEEL_KG_M3), mass)
    assert is_as_printed(part.section.mass(part.length, STEEL_KG_M3), mass)
    assert is_as_printed(part.metal_volume / part.length / 100.0, area)


@pytest.mark.slow
@pytest.mark.parametrize("row", PROFILES, ids=str)
def test_a_metre_of_an_open_profile_has_its_printed_mass_area_and_surface(row, read_back):
    # Source: the tables of EN 10056-1 and EN 10365 named in tests/steel_tables.py
    section, mass, area, *surface = row
    part = read_back(Tube(section, 1000.0)).parts[0]
    assert same(part.section, section)
    assert is_as_printed(part.mass(STEEL_KG_M3), mass)
    assert is_as_printed(part.metal_volume / part.length / 100.0, area)
    assert not surface or is_as_printed(part.section.girth / 1000.0, surface[0])


@pytest.mark.parametrize("unit", ["mm", "inch", "m"])
@pytest.mark.parametrize("section", BARS, ids=str)
def test_profiles_bars_and_ovals_are_read_exactly_in_any_unit_and_place(section, unit, read_back):
    hole = Hole(120, 4, both_walls=True)
    tube = Tube(section, 437.25, "leg", openings=(hole,), placement=Placement((3, 1, 2), 133, (500, -90, 7)))
    part = read_back(tube, unit=unit).parts[0]
    assert same(part.section, section)
    assert part.length == pytest.approx(437.25, abs=LENGTH)
    # Source: by hand: two walls are pierced in oval tube and channel; web, leg, flange or bar are gone through once
    walls = 2 if section.shape in (SectionShape.OVAL, SectionShape.CHANNEL) else 1
    assert (part.hole_count, part.square_ends) == (walls, True)


@pytest.mark.parametrize("section", SECTIONS, ids=str)
def test_a_plain_length_is_read_exactly(section, read_back):
    reading = read_back(Tube(section, 437.25, "leg"))
    part = reading.parts[0]
    assert (reading.kind, reading.unit, len(reading.parts)) == ("tube", "mm", 1)
    assert same(part.section, section)
    assert part.length == pytest.approx(437.25, abs=LENGTH)
    assert (part.name, part.hole_count, part.square_ends, part.pierce_count) == ("leg", 0, True, 1)
    # Source: two square ends, each once round the outside
    assert part.cut_length == pytest.approx(2.0 * section.girth, abs=1e-5)
    # Source: prism, area times length
    assert part.metal_volume == pytest.approx(section.metal_area * 437.25, rel=1e-9)


@pytest.mark.parametrize("section", SECTIONS, ids=str)
def test_mitred_ends_shorten_the_mean_length_by_trigonometry(section, read_back):
    first, second = 45.0, 30.0
    part = read_back(Tube(section, 600.0, start=Mitre(first, 90), end=Mitre(second, 90))).parts[0]
    assert part.length == pytest.approx(600.0, abs=LENGTH)
    assert not part.square_ends
    assert part.hole_count == 0
    # Source: a plane cut through a symmetrical section leaves the volume of its mean length
    mean = 600.0 - section.height / 2.0 * (math.tan(math.radians(first)) + math.tan(math.radians(second)))
    assert part.metal_volume == pytest.approx(section.metal_area * mean, rel=1e-7)
    assert part.cut_length == pytest.approx(mitre_contour(section, first) + mitre_contour(section, second), abs=1e-4)


def mitre_contour(section, angle):
    """Source: derivation: the sides along the height, and one axis of the corners' circles, grow by 1/cos."""
    stretch = 1.0 / math.cos(math.radians(angle))
    radius = section.height / 2.0 if section.shape is SectionShape.ROUND else section.corner_radius
    straight = 2.0 * (section.width - 2.0 * radius) + 2.0 * (section.height - 2.0 * radius) * stretch
    # Source: perimeter of an ellipse 4 a E(e²), a complete elliptic integral (scipy)
    return straight + 4.0 * radius * stretch * ellipe(1.0 - 1.0 / stretch**2)


def test_holes_and_slots_in_flats_count_once_for_each_wall(read_back):
    section = Section.box(60, 40, 3, 6)
    openings = (
        Hole(100, 12, towards=90),
        Hole(150, 10, towards=0, both_walls=True),
        Slot(220, 40, 8, towards=180, offset=5),
        Slot(300, 20, 6, towards=270, both_walls=True, across=True),
        Window(380, 30, 15, towards=90, both_walls=True),
    )
    part = read_back(Tube(section, 500, openings=openings)).parts[0]
    assert part.hole_count == 1 + 2 + 1 + 2 + 2
    assert part.pierce_count == 9
    assert part.square_ends
    slot, narrow = 2 * (40 - 8) + math.pi * 8, 2 * (20 - 6) + math.pi * 6
    # Source: by hand, circles pi d, slots 2 (length - width) + pi width, windows 2 (30 + 15)
    contours = math.pi * 12 + 2 * math.pi * 10 + slot + 2 * narrow + 2 * 90
    assert part.cut_length == pytest.approx(2 * section.girth + contours, abs=1e-5)
    away = math.pi * 36 + 2 * math.pi * 25 + 32 * 8 + math.pi * 16 + 2 * (14 * 6 + math.pi * 9) + 2 * 450
    assert part.metal_volume == pytest.approx(section.metal_area * 500 - 3 * away, rel=1e-9)


def test_a_hole_in_an_open_profile_is_one_cut_although_both_faces_of_the_wall_are_outside(read_back):
    section = Section.channel(100, 50, 5, 8.5, 9)
    part = read_back(Tube(section, 300, openings=(Hole(100, 12, 180), Slot(200, 40, 10, 90)))).parts[0]
    assert (part.hole_count, part.pierce_count) == (2, 3)
    # Source: by hand: two ends, each once through every wall: half the way round; a circle and a slot of 2 x 30 + 10 pi
    assert part.cut_length == pytest.approx(section.girth + 12 * math.pi + 60 + 10 * math.pi, abs=1e-5)
    away = 36 * math.pi * 5 + (300 + 25 * math.pi) * 8.5
    assert part.metal_volume == pytest.approx(section.metal_area * 300 - away, rel=1e-9)


def test_a_notch_in_a_toe_is_an_opening_and_a_blind_hole_is_none(read_back, read_solids_back):
    section = Section.angle(60, 40, 5, 6, 3)
    # The window takes the upright leg from 20 mm above the middle upwards.
    part = read_back(Tube(section, 300, openings=(Window(150, 40, 20, 0, offset=25, both_walls=True),))).parts[0]
    assert (part.hole_count, part.square_ends) == (1, True)
    blind = other_solids.cut(other_solids.box(300, 30, 30), other_solids.box(20, 10, 10, (100, 10, 25)))
    reading = read_solids_back(bar=blind)
    assert reading.parts[0].hole_count == 0
    assert "pocket" in codes(reading)


@pytest.mark.parametrize(
    ("section", "code"),
    [
        (Section.angle(50, 50, 5, 7, 3.5), []),
        (Section.angle(50, 50, 5), ["root-sharp"]),
        (Section.angle(50, 50, 3, 3, 0, 6), ["profile-bent"]),
        (Section.bar(50, 8), ["flat-or-plate"]),
        (Section.round_bar(20), ["bar-solid"]),
        (Section.oval(60, 30, 2), []),
    ],
    ids=str,
)
def test_what_a_profile_might_be_instead_is_said(section, code, read_back):
    assert codes(read_back(Tube(section, 400))) == code


def test_a_notch_belongs_to_its_end(read_back):
    section = Section.box(40, 40, 2, 4)
    part = read_back(Tube(section, 300, openings=(Window(0, 60, 20, towards=90),))).parts[0]
    assert part.hole_count == 0
    assert not part.square_ends
    assert part.length == pytest.approx(300, abs=LENGTH)
    # Source: by hand, the notch adds two sides of 30 mm
    assert part.cut_length == pytest.approx(2 * section.girth + 60, abs=1e-5)


def test_a_notch_through_the_tips_of_a_mitre_shortens_the_piece(read_back):
    # Source: by hand: with the top 16.1 mm of the circle gone, the highest point left is at sqrt(R² - 8.05²)
    radius, half = 24.15, 8.05
    tube = Tube(Section.round(48.3, 3), 400, start=Mitre(45, 90), openings=(Window(0, 60, 2 * half, towards=90),))
    expected = 400 - (radius - math.sqrt(radius**2 - half**2))
    assert read_back(tube).parts[0].length == pytest.approx(expected, abs=LENGTH)


def test_a_saddle_ends_where_the_two_cylinders_meet(read_back):
    # Source: derivation: a tube of radius r meets one of radius R square on along x(t) = sqrt(R² - r² cos² t), so its
    # throat stands R - sqrt(R² - r²) back from its tips
    tube = Tube(Section.round(48.3, 3), 300, end=Cope(60.3, along=0))
    part = read_back(tube).parts[0]
    assert part.length == pytest.approx(300, abs=LENGTH)
    r, big = 24.15, 30.15
    steps = 200_000
    xs = [math.sqrt(big**2 - (r * math.cos(2 * math.pi * k / steps)) ** 2) for k in range(steps + 1)]
    width = 2 * r * math.sin(math.pi / steps)
    saddle = math.fsum(math.hypot(b - a, width) for a, b in pairwise(xs))
    assert part.cut_length == pytest.approx(math.pi * 48.3 + saddle, abs=1e-4)
    assert not part.square_ends


def test_a_drilled_hole_in_round_tube_is_longer_than_its_circle(read_back):
    # Source: derivation: a hole of radius a in a tube of radius R has the edge (a cos t, a sin t, sqrt(R² - a² sin² t))
    a, big, steps = 6.0, 24.15, 100_000
    angles = [2 * math.pi * k / steps for k in range(steps + 1)]
    points = [(a * math.cos(t), a * math.sin(t), math.sqrt(big**2 - (a * math.sin(t)) ** 2)) for t in angles]
    edge = math.fsum(math.dist(p, q) for p, q in pairwise(points))
    section = Section.round(48.3, 3)
    reading = read_back(Tube(section, 300, openings=(Hole(100, 12, both_walls=True),)))
    part = reading.parts[0]
    assert part.hole_count == 2
    assert part.square_ends
    assert part.cut_length == pytest.approx(2 * section.girth + 2 * edge, abs=1e-4)
    # Source: the wall leans by asin(6 / 24.15) = 14.4 degrees where it leans most
    assert [f.message for f in reading.findings if f.code == "cut-leans" and "14°" in f.message]


def test_openings_over_corners_and_seams_count_once(read_back):
    box = Tube(Section.box(60, 40, 3, 9), 400, openings=(Hole(100, 14, towards=45), Slot(200, 50, 10, 45, across=True)))
    assert read_back(box).parts[0].hole_count == 2
    around = tuple(Hole(50 + 20 * k, 10, towards=30.0 * k) for k in range(12))
    assert read_back(Tube(Section.round(60.3, 2.9), 400, openings=around)).parts[0].hole_count == 12


@pytest.mark.slow
def test_tube_perforated_at_every_station_is_read(read_back):
    holes = tuple(
        Hole(10 + 6 * k, 14, towards=90 * (k % 4) + t, offset=o) for k in range(60) for t, o in ((0, 8), (180, -9))
    )
    section = Section.box(60, 60, 2, 4)
    part = read_back(Tube(section, 380, openings=holes)).parts[0]
    assert same(part.section, section)
    assert part.hole_count == len(holes)
    assert part.length == pytest.approx(380, abs=LENGTH)


@st.composite
def tubes(draw):
    if draw(st.booleans()):
        section = Section.round(draw(st.floats(15, 200)), 1.0 + draw(st.floats(0.1, 1.0)))
        sides = st.floats(0, 360)
    else:
        height, slim = draw(st.floats(20, 200)), draw(st.sampled_from([1.0, 0.9, 0.5]))
        wall = height * slim * draw(st.floats(0.03, 0.13))
        section = Section.box(height, height * slim, wall, wall * draw(st.sampled_from([0.0, 0.8, 2.0, 2.7])))
        sides = st.sampled_from([0.0, 90.0, 180.0, 270.0])
    mitre = st.builds(Mitre, st.floats(2, 55), sides)
    cope = st.builds(Cope, st.floats(1.05, 3).map(lambda k: k * section.height), st.sampled_from([0.0, 90.0]))
    start, end = draw(st.none() | mitre | cope), draw(st.none() | mitre | cope)
    reach = 2.5 * section.height
    openings = []
    flat = 0.8 * (section.width - 2 * section.corner_radius)
    for k in range(draw(st.integers(0, 4))):
        x, size = reach + (k + 0.5) * section.height, draw(st.floats(0.1, 0.6)) * flat
        rest = {"towards": draw(sides), "both_walls": draw(st.booleans())}
        slot = st.just(Slot(x, 1.5 * size, size, **rest))
        openings.append(draw(st.just(Hole(x, size, **rest)) | slot | st.just(Window(x, 1.2 * size, size, **rest))))
    length = 2 * reach + 4 * section.height + draw(st.floats(0, 3000))
    axis = draw(st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: math.hypot(*v) > 0.1))
    shift = draw(st.tuples(*[st.floats(-2000, 2000)] * 3))
    placement = Placement(axis, draw(st.floats(0, 360)), shift)
    return Tube(section, length, "part", start, end, tuple(openings), placement)


@pytest.mark.slow
@settings(max_examples=12 * TIMES, deadline=None)
@given(tube=tubes(), unit=st.sampled_from(["mm", "inch", "m"]), schema=st.sampled_from(["AP203", "AP214", "AP242"]))
def test_any_generated_part_comes_back_as_it_was_made(tube, unit, schema, tmp_path_factory):
    path = tmp_path_factory.mktemp("round_trip") / "part.step"
    write_tubes(path, [tube], unit, schema)
    reading = step_reader._read(path, path.name)
    assert (reading.kind, reading.unit) == ("tube", unit)
    part = reading.parts[0]
    assert same(part.section, tube.section)
    assert part.length == pytest.approx(tube.length, abs=LENGTH)
    assert part.hole_count == sum(1 + opening.both_walls for opening in tube.openings)
    assert part.square_ends == (tube.start is None and tube.end is None)
    assert part.metal_volume < tube.section.metal_area * tube.length * (1 + 1e-9)


# --- units, names, assemblies


@pytest.mark.parametrize("unit", ["mm", "inch", "m"])
@pytest.mark.parametrize("schema", ["AP203", "AP214", "AP242"])
def test_every_unit_and_schema_gives_the_same_part(unit, schema, read_back):
    tube = Tube(Section.box(50.8, 25.4, 3.175, 6.35), 914.4, openings=(Hole(100, 12.7),))
    reading = read_back(tube, unit=unit, schema=schema)
    part = reading.parts[0]
    assert reading.unit == unit
    assert same(part.section, tube.section)
    assert part.length == pytest.approx(914.4, abs=LENGTH)
    assert part.hole_count == 1


@pytest.mark.parametrize("assembly", [None, "gate frame"])
def test_several_solids_become_a_part_each_under_their_names(assembly, read_back):
    upright, rail = Tube(Section.box(40, 40, 3, 6), 900, "upright"), Tube(Section.box(40, 20, 2, 4), 600, "rail – ø")
    reading = read_back(upright, rail, assembly=assembly)
    assert [(part.name, part.length) for part in reading.parts] == [("upright", 900.0), ("rail – ø", 600.0)]
    assert reading.kind == "tube"


def test_parts_without_a_telling_name_are_called_after_the_file(read_back):
    unnamed = Tube(Section.round(33.7, 3), 200, "Open CASCADE STEP translator 8.0 1")
    assert [part.name for part in read_back(unnamed, name="brace.STEP").parts] == ["brace"]
    assert [part.name for part in read_back(unnamed, unnamed, name="brace.STEP").parts] == ["brace"]


def test_parts_of_one_name_are_numbered(read_back):
    leg = Tube(Section.round(33.7, 3), 200, "leg")
    other = Tube(Section.round(33.7, 3), 200, "leg-1")
    longer = Tube(Section.round(33.7, 3), 210, "leg")
    assert [part.name for part in read_back(leg, longer).parts] == ["leg-1", "leg-2"]
    reading = read_back(leg, other, leg)
    assert [(part.name, count) for part, count in zip(reading.parts, reading.counts, strict=True)] == [("leg", 3)]


def test_equal_solids_of_one_file_are_told_and_mirror_images_kept_apart(read_solids_back):
    leg = other_solids.tube_solid(Tube(Section.box(40, 40, 3, 6), 300, start=Mitre(30, 90), end=Mitre(30, 0)))
    again = other_solids.turned(leg, (1, 2, 3), 77, (400, 50, 6))
    reading = read_solids_back(left=leg, spare=again, right=other_solids.mirrored(leg))
    assert [(part.name, count) for part, count in zip(reading.parts, reading.counts, strict=True)] == [
        ("left", 2),
        ("right", 1),
    ]
    told = {f.code: f.message for f in reading.findings}
    assert told["parts-alike"] == "left and spare are one part, 2 times."
    assert told["parts-mirrored"].startswith("left and right are mirror images")


def test_what_holds_of_equal_solids_is_told_once(read_back, read_solids_back):
    sharp = Section.box(40, 40, 3, 0)
    leg, rail = Tube(sharp, 900, "leg"), Tube(sharp, 600, "rail")
    reading = read_back(leg, rail, leg, leg, leg, rail, leg, leg)
    assert [part.name for part in reading.parts] == ["leg", "rail"]
    assert codes(reading) == ["corner-sharp", "parts-alike", "parts-alike"]
    assert reading.findings[0].message.startswith("leg is drawn with sharp outer corners.")
    assert reading.findings[0].message.endswith(" The same holds of rail.")
    tube = other_solids.tube_solid(Tube(Section.box(40, 40, 3, 6), 300))
    screws = {f"screw {k}": other_solids.bolt() for k in range(9)}
    reading = read_solids_back(leg=tube, **screws)
    assert codes(reading) == ["turned"]
    message = reading.findings[0].message
    assert re.match(r"screw \d looks like a turned part", message)
    assert re.search(r"It is left out\. The same holds of (screw \d, ){5}screw \d and 2 more\.$", message)


def test_what_lies_beside_tubes_is_left_out_with_a_warning(read_solids_back):
    tube = other_solids.tube_solid(Tube(Section.box(40, 40, 3, 6), 300))
    reading = read_solids_back(leg=tube, foot=other_solids.plate(), screw=other_solids.bolt())
    assert (reading.kind, [part.name for part in reading.parts]) == ("tube", ["leg"])
    assert [(f.code, f.severity) for f in reading.findings] == [
        ("plate", Severity.WARNING),
        ("turned", Severity.WARNING),
    ]
    assert all(f.message.endswith("It is left out.") for f in reading.findings)


def test_a_bent_tube_beside_a_straight_one_keeps_the_file_from_being_used(read_solids_back):
    tube = other_solids.tube_solid(Tube(Section.box(40, 40, 3, 6), 300))
    reading = read_solids_back(leg=tube, bow=other_solids.bent_round_tube())
    assert [part.name for part in reading.parts] == ["leg"]
    refused_with(reading, "bent", r"^bow is bent")


# --- files that are no good; they go through the sandbox


@pytest.fixture
def good_file(tmp_path):
    path = tmp_path / "good.step"
    write_tubes(path, [Tube(Section.box(40, 40, 3, 6), 300, openings=(Hole(100, 12),))])
    return path


def written(tmp_path, content):
    path = tmp_path / "given.step"
    path.write_bytes(content)
    return path


@pytest.mark.slow
def test_a_good_file_passes_through_the_sandbox(good_file):
    reading = read_step(good_file, "good.step")
    assert (reading.kind, reading.parts[0].hole_count) == ("tube", 1)


@pytest.mark.parametrize(
    ("content", "code", "words"),
    [
        (b"", "file-empty", "given.step is empty"),
        (b"  \r\n\x00\x00", "file-empty", "is empty"),
        (random.Random(1).randbytes(50_000), "not-step", "does not begin with ISO-10303-21"),
        (b"PK\x03\x04rest", "not-step", "zip archive"),
        (b"  0\nSECTION\n  2\nHEADER\n", "not-step", "DXF"),
        (b"999\nmade here\n0\nSECTION\n", "not-step", "DXF"),
        (b"<?xml version='1.0'?>", "not-step", "XML"),
        (b"ISO-10303-21;\nHEADER;\n", "file-cut-short", "ends before its last line"),
    ],
    ids=["empty", "blank", "random", "zip", "dxf", "dxf comment", "xml", "cut short"],
)
def test_what_is_no_whole_step_file_is_refused_at_once(content, code, words, tmp_path):
    refused_with(read_step(written(tmp_path, content), "given.step"), code, words)


def test_a_file_that_is_not_there_or_no_file_is_refused(tmp_path):
    refused_with(read_step(tmp_path / "none.step", "none.step"), "file-unreadable", "none.step could not be opened")
    refused_with(read_step(tmp_path, "folder.step"), "file-unreadable", "could not be opened")


def test_a_file_over_the_size_limit_is_refused_without_reading_it(tmp_path):
    path = tmp_path / "huge.step"
    with path.open("wb") as file:
        file.write(b"ISO-10303-21;")
        file.truncate(51 * 2**20)
    refused_with(read_step(path, "huge.step"), "file-too-large", "51 MB; at most 50 MB")


def test_a_missing_kernel_is_said(good_file, monkeypatch):
    monkeypatch.setattr(step_reader.importlib.util, "find_spec", lambda name: None)
    refused_with(read_step(good_file, "good.step"), "step-not-installed", "extra 'step'")


@pytest.mark.slow
@pytest.mark.parametrize("part", [0.1, 0.5, 0.9])
def test_a_file_with_its_middle_missing_is_refused(part, good_file, tmp_path):
    content = good_file.read_bytes()
    kept = int(len(content) * part)
    reading = read_step(written(tmp_path, content[:kept] + b"\nENDSEC;\nEND-ISO-10303-21;\n"), "given.step")
    assert reading.kind == "refused"
    assert all(finding.message.endswith(".") for finding in reading.findings)


@pytest.mark.slow
def test_a_file_without_solids_is_refused_with_what_it_holds(good_file, tmp_path):
    text = good_file.read_text(encoding="latin-1")
    head, rest = text.split("DATA;")
    empty = f"{head}DATA;\nENDSEC;\nEND-ISO-10303-21;\n"
    refused_with(read_step(written(tmp_path, empty.encode("latin-1")), "given.step"), "no-solid", "holds no solid")
    surfaces = rest.replace("MANIFOLD_SOLID_BREP('',#", "SHELL_BASED_SURFACE_MODEL('',(#")
    surfaces = surfaces.replace("ADVANCED_BREP_SH", "X")
    surfaces = re.sub(r"(SHELL_BASED_SURFACE_MODEL\('',\(#\d+)\)", r"\1))", surfaces)
    reading = read_step(written(tmp_path, f"{head}DATA;{surfaces}".encode("latin-1")), "given.step")
    refused_with(reading, "no-solid", "holds surfaces or lines")


@pytest.mark.slow
def test_a_solid_that_does_not_come_through_is_missed(good_file, tmp_path):
    text = good_file.read_text(encoding="latin-1")
    # A second solid whose shell is not there.
    text = text.replace("ENDSEC;\nEND-ISO", "#99999=MANIFOLD_SOLID_BREP('',#99998);\nENDSEC;\nEND-ISO")
    reading = read_step(written(tmp_path, text.encode("latin-1")), "given.step")
    refused_with(reading, "solids-lost", "states 2 solids, but only 1 could be read")


@pytest.mark.slow
def test_a_file_without_a_unit_is_refused(good_file, tmp_path):
    text = re.sub(r"SI_UNIT\(\.MILLI\.,\.METRE\.\)", "X()", good_file.read_text(encoding="latin-1"))
    text = text.replace("LENGTH_UNIT()", "Y()")
    refused_with(read_step(written(tmp_path, text.encode("latin-1")), "given.step"), "unit-unknown", "names no unit")


@pytest.mark.slow
def test_time_and_memory_that_run_out_are_refusals(good_file):
    refused_with(read_step(good_file, "good.step", Limits(wall=0.01)), "too-slow", r"within 0\.01 s")
    refused_with(
        read_step(good_file, "good.step", Limits(wall=30, cpu=1.0, memory_mb=300)), "too-much-memory", "300 MB"
    )


@pytest.mark.slow
def test_a_reader_that_crashes_or_answers_nonsense_is_a_refusal(good_file, monkeypatch):
    monkeypatch.syspath_prepend(str(Path(__file__).parents[1] / "sandbox_calls"))
    run = step_reader.run_in_child
    for call, words in (("crash", "SIGSEGV"), ("echo", "nonsense"), ("raise_bad_value", "too thick")):
        monkeypatch.setattr(
            step_reader,
            "run_in_child",
            lambda _, request, limits, c=call, **rest: run(f"hostile_calls:{c}", request, limits, **rest),
        )
        refused_with(read_step(good_file, "good.step"), "file-damaged", words)


def mutated(content, seed):
    """The content with bytes changed, numbers changed, lines lost or doubled, and a piece taken out or moved."""
    chance = random.Random(seed)
    if seed % 4 == 0:
        changed = bytearray(content)
        for _ in range(chance.choice([1, 5, 50])):
            changed[chance.randrange(20, len(changed) - 40)] = chance.randrange(256)
        return bytes(changed)
    lines = content.split(b"\n")
    for _ in range(chance.choice([1, 3, 20])):
        i, j = sorted(chance.sample(range(8, len(lines) - 3), 2))
        if seed % 4 == 1:
            lines[i] = re.sub(rb"-?\d+\.\d*(E[-+]?\d+)?", lambda _: chance.choice([b"1.E300", b"0.", b"-7."]), lines[i])
        elif seed % 4 == 2:
            lines[i] = re.sub(rb"#\d+", lambda _: b"#%d" % chance.randrange(1, 400), lines[i], count=2)
        else:
            lines[i], lines[j] = chance.choice([(b"", lines[j]), (lines[j], lines[i]), (lines[i], lines[i])])
    return b"\n".join(lines)


@pytest.fixture
def mutations(tmp_path):
    """Mutated files of our own: a drilled square tube, and a mitred and coped round one in inches."""
    originals = []
    for k, tube in enumerate(
        (
            Tube(Section.box(40, 40, 3, 6), 300, openings=(Hole(100, 12, both_walls=True),)),
            Tube(Section.round(48.3, 3), 300, start=Mitre(45), end=Cope(60.3), openings=(Slot(150, 30, 10),)),
        )
    ):
        path = tmp_path / f"original{k}.step"
        write_tubes(path, [tube], unit=("mm", "inch")[k])
        originals.append(path.read_bytes())
    paths = []
    for seed in range(MUTATIONS):
        paths.append(tmp_path / f"mutated{seed}.step")
        paths[-1].write_bytes(mutated(originals[seed % 2], seed // 2))
    return paths


def children():
    """Of this process, less the one that is kept to fork from."""
    kept = {str(parent.process.pid) for parent in sandbox_warm._parents.values()}
    return set(Path(f"/proc/self/task/{os.getpid()}/children").read_text().split()) - kept


@pytest.mark.slow
def test_mutated_files_all_end_in_a_reading(mutations, monkeypatch):
    """All in children forked from one that has the kernel loaded; those that end a child, and some others, once more
    as the server reads them, which takes a second each.
    """
    monkeypatch.syspath_prepend(str(Path(__file__).parents[1] / "sandbox_calls"))
    others = children()  # of other tests in this process, such as a browser's driver
    paths = [str(path) for path in mutations]
    ends = run_in_child("many_files:read_each", {"paths": paths}, Limits(wall=300.0 + 2.0 * MUTATIONS, memory_mb=2048))[
        "ends"
    ]
    raised = {path: end for path, end in ends.items() if end is not None and "raised" in end}
    assert raised == {}
    answered = {path: reading_from_record(end) for path, end in ends.items() if end is not None}
    silent = [path for path in paths if path not in answered]
    assert len(answered) > MUTATIONS / 2
    kinds = [reading.kind for reading in answered.values()]
    assert kinds.count("refused") > MUTATIONS / 10  # else the mutations are too tame to show anything
    for path in silent[: 2 * TIMES] + paths[:2]:
        reading = read_step(Path(path), "given.step")
        assert reading.kind == (answered[path].kind if path in answered else "refused")
    for reading in answered.values():
        assert all(finding.message.endswith(".") for finding in reading.findings)
    assert children() <= others


@pytest.mark.slow
def test_a_solid_with_thousands_of_faces_is_refused(tmp_path):
    path = tmp_path / "faces.step"
    write_solids(path, [("gear", other_solids.prism(other_solids.regular(4200, 900.0), 10))])
    refused_with(read_step(path, "faces.step"), "too-many-faces", "4202 faces; at most 4000")


@pytest.mark.slow
def test_a_tube_with_hundreds_of_holes_is_read_within_its_limits(tmp_path):
    holes = tuple(Hole(30 + 15 * k, 8, side, both_walls=True) for k in range(126) for side in (0.0, 90.0))
    path = tmp_path / "sieve.step"
    write_tubes(path, [Tube(Section.box(60, 60, 2, 4), 1950, openings=holes)])
    (part,) = read_step(path, "sieve.step").parts
    assert part.hole_count == 504
    assert {(cut.kind, cut.diameter) for cut in part.cut_outs} == {(CutOutKind.ROUND, 8.0)}
