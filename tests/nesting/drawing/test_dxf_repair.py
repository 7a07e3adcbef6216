import io

import pytest
from ezdxf import recover

from nesting.drawing.dxf_repair import MARKERS, with_line_ends, with_markers
from tests.drawings import codes, raw_dxf, read, tags

SQUARE = (10, 0, 20, 0, 10, 60, 20, 0, 10, 60, 20, 40, 10, 0, 20, 40)
BARE_POLYLINE = tags(0, "LWPOLYLINE", 8, "CUT", 90, 4, 70, 1, *SQUARE)
MARKED_POLYLINE = tags(0, "LWPOLYLINE", 100, "AcDbEntity", 8, "CUT", 100, "AcDbPolyline", 90, 4, 70, 1, *SQUARE)


def test_old_line_ends_are_made_new_and_others_left_alone():
    assert with_line_ends(b"  0\rSECTION\r") == b"  0\nSECTION\n"
    for data in (b"  0\nSECTION\n", b"  0\r\nSECTION\r\n", b"", b"one line"):
        assert with_line_ends(data) == data


def test_a_polyline_without_its_marker_gets_it_and_keeps_its_numbers():
    data, count = with_markers(raw_dxf(BARE_POLYLINE).encode())
    assert count == 1
    document, auditor = recover.read(io.BytesIO(data))
    (polyline,) = document.modelspace().query("LWPOLYLINE")
    assert polyline.closed
    assert polyline.dxf.layer == "CUT"
    assert list(polyline.get_points("xy")) == [(0, 0), (60, 0), (60, 40), (0, 40)]
    assert not auditor.errors


def test_a_polyline_with_its_own_marker_alone_gets_the_other():
    half = tags(0, "LWPOLYLINE", 8, "CUT", 100, "AcDbPolyline", 90, 4, 70, 1, *SQUARE)
    data, count = with_markers(raw_dxf(half).encode())
    assert (count, data.count(b"AcDbEntity"), data.count(b"AcDbPolyline")) == (1, 1, 1)
    assert read(raw_dxf(half)).parts[0].area == pytest.approx(2400.0)


def test_a_file_that_needs_no_marker_is_returned_as_it_is():
    for text in (
        raw_dxf(MARKED_POLYLINE),
        raw_dxf(tags(0, "LINE", 8, "0", 10, 0, 20, 0, 11, 5, 21, 5)),
        "",
        "0",
        "a\nb",
    ):
        assert with_markers(text.encode()) == (text.encode(), 0)


@pytest.mark.parametrize("kind", [name.decode() for name in MARKERS])
def test_each_kind_gets_its_own_marker(kind):
    data, count = with_markers(raw_dxf(tags(0, kind, 8, "0", 90, 1)).encode())
    rows = [row.strip() for row in data.decode().split("\n")]
    assert count == 1
    assert rows[rows.index(kind) :][1:8] == [
        "100",
        "AcDbEntity",
        "8",
        "0",
        "100",
        MARKERS[kind.encode()].decode(),
        "90",
    ]


def test_all_of_them_are_mended_and_the_rest_stays():
    line = tags(0, "LINE", 8, "0", 10, 0, 20, 0, 11, 5, 21, 5)
    data, count = with_markers(raw_dxf(BARE_POLYLINE + line + MARKED_POLYLINE + BARE_POLYLINE).encode())
    assert count == 2
    document, _ = recover.read(io.BytesIO(data))
    assert [entity.dxftype() for entity in document.modelspace()] == ["LWPOLYLINE", "LINE", "LWPOLYLINE", "LWPOLYLINE"]


@pytest.mark.parametrize(
    ("version", "stated"), [("AC1009", "AC1015"), ("AC1006", "AC1015"), ("AC1015", "AC1015"), ("AC1032", "AC1032")]
)
def test_the_stated_version_is_raised_to_one_that_knows_markers_and_never_lowered(version, stated):
    data, _ = with_markers(raw_dxf(BARE_POLYLINE, version=version).encode())
    assert data.split(b"$ACADVER")[1].split()[1].decode() == stated


def test_a_file_without_a_version_or_a_header_is_given_one():
    no_version = "  0\nSECTION\n  2\nHEADER\n  9\n$INSUNITS\n 70\n4\n  0\nENDSEC\n"
    entities = f"  0\nSECTION\n  2\nENTITIES\n{BARE_POLYLINE}  0\nENDSEC\n  0\nEOF\n"
    for text in (no_version + entities, entities):
        data, count = with_markers(text.encode())
        assert count == 1
        assert recover.read(io.BytesIO(data))[0].dxfversion == "AC1015"


def test_a_mended_file_is_read_and_it_is_told():
    reading = read(raw_dxf(BARE_POLYLINE))
    assert reading.kind == "sheet"
    assert reading.parts[0].area == pytest.approx(2400.0)
    assert codes(reading).count("file-repaired") >= 1
    old = read(raw_dxf(MARKED_POLYLINE).replace("\n", "\r"))
    assert old.parts[0].area == pytest.approx(2400.0)
