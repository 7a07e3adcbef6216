"""The door of the reader: options, what is told of a whole drawing, and that nothing in a file makes it raise."""

import math

import pytest

from nesting.drawing import dxf_reader as module
from nesting.drawing.dxf_reader import DxfOptions, read_dxf, read_record
from nesting.drawing.layers import LayerRules, LayerUse
from nesting.errors import BadRecord, BadValue
from nesting.records.parts import reading_from_record
from nesting.units import JOIN_WIDE
from tests.bad_files import BAD_FILES
from tests.drawings import add_lines, add_rectangle, as_bytes, codes, drawing, findings, read

DRAWINGS = [name for name, bad in BAD_FILES.items() if bad.name.endswith(".dxf")]


def test_a_plate_with_holes_and_a_mark_is_one_part():
    document, space = drawing()
    add_lines(space, [(10, 10), (110, 10), (110, 70), (10, 70)])
    space.add_circle((30, 40), 6)
    space.add_ellipse((80, 40), (12, 0), 0.5)
    add_lines(space, [(50, 30), (50, 50), (60, 50)], closed=False, layer="MARK")
    reading = read(document, "gate latch.dxf")
    (part,) = reading.parts
    assert (reading.kind, reading.unit, part.name, len(part.holes)) == ("sheet", "mm", "gate latch", 2)
    # Source: by hand, 100 x 60 less a circle of 6 and an ellipse of 12 and 6.
    assert part.area == pytest.approx(6000 - math.pi * 36 - math.pi * 72, abs=0.5)
    (mark,) = part.marks
    assert [vertex[:2] for vertex in mark.vertices] in ([(40, 20), (40, 40), (50, 40)], [(50, 40), (40, 40), (40, 20)])
    assert codes(reading) == ["curves-fitted"]
    assert len(reading.sketch) == 3


def test_a_line_drawn_twice_is_told_once_with_how_many():
    document, space = drawing()
    add_rectangle(space, 60, 40)
    add_rectangle(space, 60, 40)
    space.add_line((0, 0), (60, 0))
    reading = read(document)
    (finding,) = findings(reading, "drawn-twice")
    assert finding.message == "2 lines were drawn twice and are cut once (the first at 0.0, 0.0)."
    assert reading.parts[0].area == pytest.approx(2400.0)


def test_a_line_there_and_back_is_no_contour():
    document, space = drawing()
    space.add_lwpolyline([(0, 0), (50, 0)], close=True)
    reading = read(document)
    assert reading.kind == "refused"
    assert {"drawn-twice", "open-contour"} <= set(codes(reading))


def test_a_shop_says_which_layers_are_cut():
    document, space = drawing()
    add_rectangle(space, 60, 40, layer="A")
    add_rectangle(space, 20, 10, 5, 5, layer="B")
    rules = LayerRules(layers=(("b", LayerUse.IGNORE),))
    reading = read(document, layers=rules)
    assert reading.parts[0].holes == ()
    assert "ignored-layer" in codes(reading)
    assert len(read(document).parts[0].holes) == 1


def test_only_marks_or_only_text_is_nothing_to_cut():
    for draw in (
        lambda space: add_rectangle(space, 60, 40, layer="MARK"),
        lambda space: space.add_text("plate"),
        lambda space: space.doc.paperspace().add_line((0, 0), (9, 9)),
        lambda space: None,
    ):
        document, space = drawing()
        draw(space)
        reading = read(document)
        assert reading.kind == "refused"
        assert "nothing-to-cut" in codes(reading)


def test_good_contours_beside_crossing_ones_are_shown_but_the_drawing_is_refused():
    document, space = drawing()
    add_rectangle(space, 60, 40)
    add_rectangle(space, 60, 40, 30, 20)
    space.add_circle((200, 20), 10)
    reading = read(document)
    assert reading.kind == "refused"
    assert codes(reading) == ["crossing-contours"]
    assert len(reading.sketch) == 3


def test_the_question_for_the_unit_comes_first():
    document, space = drawing(unit=0)
    add_lines(space, [(0, 0), (60, 0), (60, 40), (0, 39)], closed=False)
    reading = read(document)
    assert reading.unit == ""
    assert {"unit-unknown", "open-contour"} <= set(codes(reading))
    assert read(document, unit="mm").unit == "mm"


def test_a_sketch_has_a_bound(monkeypatch):
    monkeypatch.setattr(module, "MOST_SKETCHED", 3)
    document, space = drawing()
    for k in range(5):
        space.add_circle((30 * k, 0), 10)
    reading = read(document)
    assert (len(reading.parts), len(reading.sketch)) == (5, 3)
    assert findings(reading, "sketch-cut-short")[0].message.startswith("The picture shows 3 of 5 contours")


def test_a_crowd_of_lines_is_refused_with_a_picture(monkeypatch):
    monkeypatch.setattr("nesting.drawing.near_pairs.MOST_PAIRS", 500)
    document, space = drawing()
    for k in range(60):
        space.add_line((k, 0), (60 - k, 100))
    reading = read(document)
    assert (reading.kind, codes(reading)[0], len(reading.sketch)) == ("refused", "too-crowded", 60)


@pytest.mark.parametrize(
    "options", [{"unit": "furlong"}, {"join": -0.001}, {"join": JOIN_WIDE + 0.001}, {"join": math.nan}]
)
def test_an_answer_that_cannot_be_is_our_fault_and_raised(options):
    with pytest.raises(BadValue):
        DxfOptions(**options)


def test_the_record_call_answers_with_the_same_reading(tmp_path):
    document, space = drawing(unit=0)
    add_lines(space, [(0, 0), (60, 0), (60, 40), (0.05, 40), (0, 0)], closed=False)
    path = tmp_path / "upload"
    path.write_bytes(as_bytes(document))
    request = {"path": str(path), "name": "plate.dxf", "unit": "mm", "join_mm": 0.1}
    answer = reading_from_record(read_record(request, lambda _: None))
    assert answer == read_dxf(path, "plate.dxf", DxfOptions("mm", 0.1))
    assert answer.kind == "sheet"


@pytest.mark.parametrize(
    ("request_", "fault"),
    [
        ({"name": "a"}, BadRecord),
        ({"path": 3, "name": "a"}, BadRecord),
        ({"path": "a", "name": "a", "unit": "x"}, BadValue),
    ],
)
def test_a_request_that_is_wrong_is_our_fault_and_raised(request_, fault):
    with pytest.raises(fault):
        read_record(request_, lambda _: None)


@pytest.mark.parametrize(
    ("fault", "words"), [(MemoryError(), "more memory"), (KeyError("x"), "could not be read (KeyError)")]
)
def test_whatever_goes_wrong_inside_is_one_sentence(tmp_path, monkeypatch, fault, words):
    def fail(*_):
        raise fault

    monkeypatch.setattr(module, "gathered", fail)
    document, _ = drawing()
    reading = read(document, "plate.dxf")
    assert (reading.kind, codes(reading)) == ("refused", ["unreadable"])
    assert reading.findings[0].message.startswith("plate.dxf ")
    assert words in reading.findings[0].message


@pytest.mark.parametrize("bad", [name for name in DRAWINGS if "million" not in name and "lines" not in name])
def test_a_file_that_nobody_can_use_is_refused_by_the_reader_itself(tmp_path, bad):
    file = BAD_FILES[bad]
    path = tmp_path / "upload"
    file.write(path)
    reading = read_dxf(path, file.name)
    assert reading.kind == "refused"
    assert all(finding.message.endswith(".") for finding in reading.findings)
