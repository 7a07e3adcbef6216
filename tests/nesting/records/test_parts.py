import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import BadRecord
from nesting.model.section import Section
from nesting.records.parts import (
    UNSTATED_SECTION,
    contour_from_record,
    finding_from_record,
    finding_to_record,
    part_from_record,
    part_to_record,
    path_from_record,
    path_to_record,
    reading_from_record,
    reading_to_record,
    section_from_record,
    section_to_record,
    sheet_part_from_record,
    tube_part_from_record,
)
from tests.strategies import findings, paths, readings, rings, sections, sheet_parts, tube_parts


def through_json(record):
    """The record as a file or a database gives it back."""
    return json.loads(json.dumps(record, allow_nan=False))


@given(paths)
def test_an_open_run_comes_back(path):
    assert path_from_record(through_json(path_to_record(path))) == path


@given(rings())
def test_a_ring_comes_back(ring):
    assert contour_from_record(through_json(path_to_record(ring))) == ring


@given(sections())
def test_a_section_comes_back(section):
    assert section_from_record(through_json(section_to_record(section))) == section


@given(st.one_of(sheet_parts(), tube_parts()))
def test_a_part_comes_back(part):
    assert part_from_record(through_json(part_to_record(part))) == part


@given(findings())
def test_a_finding_comes_back(finding):
    assert finding_from_record(through_json(finding_to_record(finding))) == finding


@given(readings())
@settings(max_examples=50)
def test_a_reading_comes_back(reading):
    assert reading_from_record(through_json(reading_to_record(reading))) == reading


def test_straight_vertices_are_written_without_a_bulge():
    ring = contour_from_record([[0, 0], [10, 0, 0.5], [10, 10]])
    assert path_to_record(ring) == [[0, 0], [10, 0, 0.5], [10, 10]]


def test_a_ring_may_repeat_its_first_vertex():
    assert contour_from_record([[0, 0], [4, 0], [4, 3], [0, 0]]).area == 6


def test_round_tube_carries_a_diameter_and_box_tube_two_measures():
    assert section_to_record(Section.round(48.3, 3.2)) == {
        "shape": "round",
        "diameter_mm": 48.3,
        "wall_mm": 3.2,
        "corner_radius_mm": 0.0,
    }
    record = section_to_record(Section.box(60, 40, 3, 6))
    assert (record["height_mm"], record["width_mm"], record["corner_radius_mm"]) == (60, 40, 6)
    assert "diameter_mm" not in record


def test_a_tube_part_without_a_section_still_has_a_length():
    part = tube_part_from_record({"name": "post", "length_mm": 1234.5})
    assert (part.length, part.section) == (1234.5, UNSTATED_SECTION)


SQUARE = [[0, 0], [10, 0], [10, 10], [0, 10]]


@pytest.mark.parametrize(
    ("record", "sentence"),
    [
        (None, r"^part: an object is needed, but it is missing"),
        ({"outer": SQUARE}, r"^part\.name: a text is needed, but it is missing"),
        ({"name": "", "outer": SQUARE}, r"^part: SheetPart: the name is empty"),
        ({"name": "a"}, r"^part\.outer: a list is needed, but it is missing"),
        ({"name": "a", "outer": "SQUARE"}, r"^part\.outer: a list is needed, not 'SQUARE'"),
        ({"name": "a", "outer": []}, r"^part\.outer: Contour: 0 vertices"),
        ({"name": "a", "outer": [[0, 0]]}, r"^part\.outer: Contour: 1 vertices"),
        ({"name": "a", "outer": [[0, 0], [10, 0]]}, r"^part\.outer: Contour: the ring encloses no area"),
        ({"name": "a", "outer": [[0, 0], [5], [5, 5]]}, r"^part\.outer\[1\]: \[x, y\] or \[x, y, bulge\] is needed"),
        ({"name": "a", "outer": [[0, 0], [5, 0, 0, 0], [5, 5]]}, r"^part\.outer\[1\]: \[x, y\] or"),
        ({"name": "a", "outer": [[0, 0], 5, [5, 5]]}, r"^part\.outer\[1\]: a list is needed, not 5"),
        ({"name": "a", "outer": [[0, 0], [5, "0"], [5, 5]]}, r"^part\.outer\[1\]\.y: a number is needed, not '0'"),
        ({"name": "a", "outer": [[0, 0], [1e300, 0], [5, 5]]}, r"^part\.outer\[1\]\.x: a number from"),
        ({"name": "a", "outer": [[0, 0], [5, 0, None], [5, 5]]}, r"^part\.outer\[1\]\.bulge: a number is needed"),
        ({"name": "a", "outer": [[0, 0], [5e6, 0], [0, 5]]}, r"^part\.outer: it reaches further than 4 km"),
        # Source: by hand, a chord of 10 m with a bulge of 1000 is an arc of 5 km radius.
        ({"name": "a", "outer": [[0, 0, 1e3], [1e4, 0], [0, 5]]}, r"^part\.outer: it reaches further than 4 km"),
        ({"name": "a", "outer": SQUARE, "holes": {}}, r"^part\.holes: a list is needed, not \{\}"),
        ({"name": "a", "outer": SQUARE, "holes": [SQUARE, [[1, 1]]]}, r"^part\.holes\[1\]: Contour: 1 vertices"),
        ({"name": "a", "outer": SQUARE, "holes": [[[1, True]]]}, r"^part\.holes\[0\]\[0\]\.y: a number is needed"),
        ({"name": "a", "outer": SQUARE, "marks": [[[1, 1]]]}, r"^part\.marks\[0\]: Path: 1 vertices"),
    ],
)
def test_a_malformed_sheet_part_is_refused_at_its_place(record, sentence):
    with pytest.raises(BadRecord, match=sentence):
        sheet_part_from_record(record)


BOX = {"shape": "square", "height_mm": 40, "width_mm": 40, "wall_mm": 3, "corner_radius_mm": 6}


@pytest.mark.parametrize(
    ("record", "sentence"),
    [
        ([], r"^part: an object is needed, not \[\]"),
        ({"length_mm": 5}, r"^part\.name: a text is needed"),
        ({"name": "", "length_mm": 5}, r"^part: TubePart: the name is empty"),
        ({"name": "a"}, r"^part\.length_mm: a number is needed, but it is missing"),
        ({"name": "a", "length_mm": 0}, r"^part: TubePart: the length must be above 0, not 0"),
        ({"name": "a", "length_mm": -5}, r"^part: TubePart: the length must be above 0, not -5"),
        ({"name": "a", "length_mm": "5 m"}, r"^part\.length_mm: a number is needed, not '5 m'"),
        ({"name": "a", "length_mm": 5, "hole_count": -1}, r"^part: TubePart: counts and lengths cannot be negative"),
        ({"name": "a", "length_mm": 5, "hole_count": 1.5}, r"^part\.hole_count: a whole number is needed"),
        ({"name": "a", "length_mm": 5, "square_ends": "no"}, r"^part\.square_ends: true or false is needed"),
        ({"name": "a", "length_mm": 5, "section": "box"}, r"^part\.section: an object is needed, not 'box'"),
        ({"name": "a", "length_mm": 5, "section": BOX | {"wall_mm": 20}}, r"^part\.section: Section: a wall of 20"),
        ({"name": "a", "length_mm": 5, "section": BOX | {"wall_mm": None}}, r"^part\.section\.wall_mm: a number"),
        ({"name": "a", "length_mm": 5, "section": BOX | {"shape": 4}}, r"^part\.section\.shape: a text is needed"),
        (
            {"name": "a", "length_mm": 5, "section": {"shape": "round", "wall_mm": 3}},
            r"^part\.section\.diameter_mm: a number is needed",
        ),
        (
            {"name": "a", "length_mm": 5, "section": BOX | {"corner_radius_mm": 30}},
            r"^part\.section: Section: a corner radius of 30",
        ),
    ],
)
def test_a_malformed_tube_part_is_refused_at_its_place(record, sentence):
    with pytest.raises(BadRecord, match=sentence):
        tube_part_from_record(record)


@pytest.mark.parametrize("shape", ["octagon", "Square", ""])
def test_a_section_shape_that_is_not_known_is_refused(shape):
    with pytest.raises(BadRecord, match=r"^section\.shape: one of square, .*, round bar is needed, not "):
        section_from_record(BOX | {"shape": shape})


def test_a_section_whose_shape_and_measures_disagree_is_refused():
    with pytest.raises(BadRecord, match=r"^section\.shape: 60 x 40 mm is rectangular, not square"):
        section_from_record(BOX | {"height_mm": 60})
    with pytest.raises(BadRecord, match=r"^section\.shape: 40 x 40 mm is square, not rectangular"):
        section_from_record(BOX | {"shape": "rectangular"})


FOUND = {"code": "open-contour", "severity": "refusal", "message": "Open at 1, 2.", "at": [1, 2]}


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"severity": "fatal"}, r"^finding\.severity: one of note, warning, question, refusal is needed, not 'fatal'"),
        ({"severity": None}, r"^finding\.severity: a text is needed"),
        ({"code": 5}, r"^finding\.code: a text is needed"),
        ({"message": None}, r"^finding\.message: a text is needed"),
        ({"at": "here"}, r"^finding\.at\[0\]: a list is needed, not 'here'"),
        ({"at": [1]}, r"^finding\.at\[0\]: \[x, y\]"),
        ({"at": [1, None]}, r"^finding\.at\[0\]\.y: a number is needed"),
    ],
)
def test_a_malformed_finding_is_refused_at_its_place(change, sentence):
    with pytest.raises(BadRecord, match=sentence):
        finding_from_record(FOUND | change)


READ = {"kind": "refused", "unit": "", "parts": [], "findings": [FOUND], "sketch": []}


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"kind": "plate"}, r"^reading\.kind: sheet, tube or refused is needed, not 'plate'"),
        ({"kind": "sheet"}, r"^reading: Reading: kind 'sheet' does not go with its findings"),
        ({"kind": "sheet", "findings": []}, r"^reading: Reading: a usable reading has at least one part"),
        ({"parts": None}, r"^reading\.parts: a list is needed"),
        ({"parts": [{"name": "a", "outer": 1}]}, r"^reading\.parts\[0\]\.outer: a list is needed"),
        ({"findings": {}}, r"^reading\.findings: a list is needed"),
        ({"findings": [FOUND, FOUND | {"at": 1}]}, r"^reading\.findings\[1\]\.at\[0\]: a list is needed"),
        ({"sketch": [[[0, 0]]]}, r"^reading\.sketch\[0\]: Path: 1 vertices"),
        ({"unit": 25.4}, r"^reading\.unit: a text is needed"),
    ],
)
def test_a_malformed_reading_is_refused_at_its_place(change, sentence):
    with pytest.raises(BadRecord, match=sentence):
        reading_from_record(READ | change)


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ([], "part.ends: a cut at the start and one at the end are needed, not 0"),
        ([{"kind": "skew", "path": [[0, 0], [0, 9]]}] * 2, "part.ends\\[0\\].kind: one of square"),
        ([{"kind": "mitre", "path": [[0, 0], [0, 9]], "angle_deg": 95}] * 2, "cannot lean by 95"),
        ([{"kind": "free"}] * 2, "part.ends\\[0\\].path"),
        ([{"kind": "square"}] * 2, "part.ends\\[0\\]: a part whose ends are told by their angle needs its section"),
    ],
)
def test_ends_that_cannot_be_are_refused_with_their_place(ends, words):
    with pytest.raises(BadRecord, match=words):
        tube_part_from_record({"name": "post", "length_mm": 100.0, "ends": ends})


BOX_RECORD = {"shape": "square", "height_mm": 40, "width_mm": 40, "wall_mm": 3, "corner_radius_mm": 6}


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ([{"kind": "mitre"}, {"kind": "square"}], "part.ends\\[0\\].angle_deg: a mitre leans by more than 0"),
        ([{"kind": "square"}, {"kind": "square", "angle_deg": 30}], "part.ends\\[1\\].angle_deg: .* a square end by 0"),
        ([{"kind": "square"}, {"kind": "mitre", "angle_deg": 90}], "part.ends\\[1\\]: A mitre cannot lean by 90"),
        ([{"kind": "mitre", "angle_deg": 50, "towards_deg": 90}] * 2, "too short for these mitres"),
    ],
)
def test_ends_told_by_an_angle_that_cannot_be_are_refused_with_their_place(ends, words):
    with pytest.raises(BadRecord, match=words):
        tube_part_from_record({"name": "post", "length_mm": 90.0, "section": BOX_RECORD, "ends": ends})


def test_ends_told_by_their_angle_get_their_contours():
    row = {"name": "rail", "length_mm": 500.0, "section": BOX_RECORD}
    row["ends"] = [{"kind": "square"}, {"kind": "mitre", "angle_deg": 45, "towards_deg": 90}]
    part = tube_part_from_record(row)
    start, end = part.ends
    assert not part.square_ends
    assert (start.path.bounds.left, start.path.bounds.right) == (0.0, 0.0)
    # Source: by hand: at 45° the short side is 40 mm shorter, and the mean length that of the axis.
    assert (end.path.bounds.left, end.path.bounds.right) == pytest.approx((460.0, 500.0))
    assert part.mean_length == pytest.approx(480.0)
    assert str(end) == "mitre 45°, long point at the top"
    assert tube_part_from_record(part_to_record(part)) == part


def test_a_cut_out_of_no_known_kind_is_refused_with_its_place():
    cut = {"kind": "dent", "face": "top"}
    with pytest.raises(BadRecord, match=r"part.cut_outs\[0\].kind: one of round hole"):
        tube_part_from_record({"name": "post", "length_mm": 100.0, "cut_outs": [cut]})
