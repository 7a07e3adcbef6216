import pytest

from nesting.drawing.units_of_drawing import (
    ANSWERS,
    HEADER_UNITS,
    DrawingUnit,
    check_answer,
    header_unit,
    unit_findings,
    unit_of,
)
from nesting.errors import BadValue
from nesting.geometry.contour import Bounds
from nesting.model.findings import Severity
from tests.drawings import VERSIONS, as_bytes, drawing, raw_dxf


@pytest.mark.parametrize("version", [v for v in VERSIONS if v != "R12"])
@pytest.mark.parametrize("binary", [False, True], ids=["ascii", "binary"])
@pytest.mark.parametrize("unit", [1, 4, 5, 24])
def test_the_unit_stands_in_the_header_of_every_version(version, binary, unit):
    assert header_unit(as_bytes(drawing(version, unit)[0], binary=binary)) == unit


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_the_unit_is_found_whatever_ends_the_lines(ending):
    assert header_unit(raw_dxf("", unit=5).replace("\n", ending).encode()) == 5


def test_a_header_without_a_unit_says_none():
    assert header_unit(raw_dxf("", unit=None).encode()) == 0
    assert header_unit(b"") == 0
    assert header_unit(b"$INSUNITS\x00") == 0
    assert header_unit(b"  9\n$INSUNITS\n 70\nmm\n") == 0


def test_a_group_code_of_one_byte_is_known_too():
    # Source: DXF reference, binary files: group codes take two bytes, in R12 and before one.
    assert header_unit(b"\x09$INSUNITS\x00\x46\x04\x00\x09$LTSCALE\x00") == 4
    assert header_unit(b"\x09\x00$INSUNITS\x00\x46\x00\x01\x00") == 1


@pytest.mark.parametrize(
    ("code", "mm"),
    # Source: international yard of 1959, 1 inch = 25.4 mm; SI prefixes; NIST, survey foot 1200/3937 m.
    [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0), (9, 0.0254), (10, 914.4), (14, 100.0), (21, 304.8006096)],
)
def test_a_unit_is_as_long_as_it_is_defined(code, mm):
    assert HEADER_UNITS[code][1] == pytest.approx(mm, rel=1e-9)


def test_a_persons_word_goes_before_the_header():
    data = raw_dxf("", unit=1).encode()
    assert unit_of(data, "") == DrawingUnit("inch", 25.4)
    assert unit_of(data, "cm") == DrawingUnit("cm", 10.0, by_person=True)
    assert unit_of(raw_dxf("", unit=0).encode(), "") == DrawingUnit("", 1.0)
    # Astronomical units say nothing about a part from sheet.
    assert unit_of(raw_dxf("", unit=18).encode(), "") == DrawingUnit("", 1.0)


def test_an_answer_that_is_no_unit_is_refused_with_those_that_are():
    with pytest.raises(BadValue, match="'furlong' is not known; known are inch, foot"):
        check_answer("furlong")
    for name in ("", *ANSWERS):
        check_answer(name)


def told(unit, width, height, largest=True):
    whole = Bounds(0.0, 0.0, width, height)
    return unit_findings(unit, whole, whole if largest else None)


MM, INCH, NONE = DrawingUnit("mm", 1.0), DrawingUnit("inch", 25.4), DrawingUnit("", 1.0)


def test_an_empty_drawing_raises_no_question():
    assert unit_findings(NONE, None, None) == []


def test_without_a_unit_it_is_asked_with_both_sizes():
    (finding,) = told(NONE, 8.0, 4.0)
    assert (finding.code, finding.severity) == ("unit-unknown", Severity.QUESTION)
    # Source: by hand, 8 x 25.4 = 203.2 and 4 x 25.4 = 101.6.
    assert "In mm the largest contour is 8.0 x 4.0 mm" in finding.message
    assert "203.2 x 101.6 mm" in finding.message
    (finding,) = told(NONE, 8.0, 4.0, largest=False)
    assert "In mm the drawing is 8.0 x 4.0 mm" in finding.message


@pytest.mark.parametrize(
    ("unit", "width", "codes"),
    [
        (MM, 12.0, []),
        (MM, 11.9, ["unit-doubtful"]),
        (MM, 5000.0, []),
        (INCH, 1000.0, ["unit-converted"]),
        (INCH, 1000.1, ["unit-doubtful", "unit-converted"]),
        (DrawingUnit("m", 1000.0), 4000.0, ["unit-doubtful", "unit-converted"]),
        # A person's word ends all doubt.
        (DrawingUnit("mm", 1.0, by_person=True), 2.0, []),
        (DrawingUnit("inch", 25.4, by_person=True), 9000.0, ["unit-converted"]),
    ],
)
def test_sizes_that_make_one_doubt_the_unit(unit, width, codes):
    found = told(unit, width, 5.0)
    assert [finding.code for finding in found] == codes
    assert not any(finding.blocks for finding in found)
    if "unit-converted" in codes:
        assert f"in {unit.name}: {width / unit.mm:.1f}"[:14] in found[-1].message
