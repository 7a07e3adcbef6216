import io
import math

import ezdxf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import rotate
from shapely.geometry import Polygon, box

from nesting.drawing.dxf_reader import read_dxf
from nesting.errors import BadValue
from nesting.export.dxf_writer import COLOURS, LONGEST_LABEL, as_circle, label_text, sheet_dxf
from nesting.export.pieces import pieces_on_sheet
from nesting.geometry.contour import Contour, Path
from nesting.geometry.placing import placed
from nesting.model.nest import Demand, Placement, SheetJob, SheetLayout, SheetNest, SheetRules
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.units import SAME_POINT
from tests.strategies import names, sheet_nests, sheet_parts, turns

FLANGE = SheetPart("flange", Contour.circle(0, 0, 60), (Contour.circle(0, 0, 25), Contour.circle(40, 0, 4)))
GUSSET = SheetPart(
    "gusset", Contour(((0, 0, 0), (180, 0, 0), (180, 25, 0.2), (25, 180, 0), (0, 180, 0))), (Contour.circle(40, 40, 9),)
)
PANEL = SheetPart(
    "panel", Contour.rectangle(300, 120), (), (Path(((20, 60, 0), (280, 60, 0))), Contour.circle(150, 60, 5))
)


def nest_of(*parts, placements=None, sheet=None):
    sheet = sheet or Sheet.rectangle("1000x500", 1000, 500)
    job = SheetJob((sheet,), SheetRules(), tuple(Demand(part, 1) for part in parts))
    placements = placements or [Placement(part.name, 150.0 + 250 * i, 70.0) for i, part in enumerate(parts)]
    return SheetNest(job, (SheetLayout(sheet.name, tuple(placements)),))


def read(data):
    """The document as a plain DXF library reads it, text decoded as the file says."""
    encoding = ezdxf.filemanagement.dxf_stream_info(io.StringIO(data.decode("ascii", "replace"))).encoding
    return ezdxf.read(io.StringIO(data.decode(encoding), newline=None))


def rings(document, layer):
    """Every closed contour on a layer as vertices of x, y and bulge."""
    found = []
    for entity in document.modelspace().query(f'*[layer=="{layer}"]'):
        if entity.dxftype() == "CIRCLE":
            x, y, _ = entity.dxf.center
            found.append(Contour.circle(x, y, entity.dxf.radius))
        elif entity.closed:
            found.append(Contour(tuple(entity.get_points("xyb"))))
    return found


def same_ring(one, other):
    """Whether two rings enclose the same area with the same outline, whatever vertex and direction they start with."""
    fine = [(Polygon(ring.polygon(1e-4))) for ring in (one, other)]
    gap = fine[0].hausdorff_distance(fine[1])
    return math.isclose(one.area, other.area, rel_tol=1e-9, abs_tol=1e-6) and gap < 2e-3


def test_the_file_says_that_it_is_in_millimetres():
    # Source: DXF reference, HEADER variables: $INSUNITS 4 is millimetres, $MEASUREMENT 1 is metric.
    header = read(sheet_dxf(nest_of(GUSSET), 0)).header
    assert (header["$INSUNITS"], header["$MEASUREMENT"]) == (4, 1)


def test_the_file_is_of_release_2000():
    # Source: DXF reference, $ACADVER: AC1015 is release 2000, the first with polyline arcs and $INSUNITS.
    data = sheet_dxf(nest_of(GUSSET), 0)
    assert data.decode("cp1252").split("$ACADVER")[1].split()[1] == "AC1015"


def test_the_extents_are_those_of_the_sheet():
    header = read(sheet_dxf(nest_of(GUSSET), 0)).header
    assert tuple(header["$EXTMIN"]) == (0, 0, 0)
    assert tuple(header["$EXTMAX"]) == (1000, 500, 0)


def test_each_thing_lies_on_its_own_layer_in_its_own_colour():
    document = read(sheet_dxf(nest_of(GUSSET, FLANGE, PANEL), 0))
    counted = {}
    for entity in document.modelspace():
        counted[entity.dxf.layer] = counted.get(entity.dxf.layer, 0) + 1
        assert entity.dxf.color == 256, "the colour is that of the layer"
    assert counted == {"SHEET_EDGE": 1, "OUTER_CONTOURS": 3, "HOLES": 3, "MARKS": 2, "LABELS": 3}
    colours = [document.layers.get(name).color for name in COLOURS]
    assert len(set(colours)) == 5


def test_a_library_that_checks_drawings_finds_nothing_to_mend():
    document = read(sheet_dxf(nest_of(GUSSET, FLANGE, PANEL), 0))
    audit = document.audit()
    assert (audit.errors, audit.fixes) == ([], [])


def test_holes_stand_before_the_outside_of_their_part():
    document = read(sheet_dxf(nest_of(FLANGE), 0))
    layers = [entity.dxf.layer for entity in document.modelspace()]
    assert layers == ["SHEET_EDGE", "HOLES", "HOLES", "OUTER_CONTOURS", "LABELS"]


@given(sheet_nests())
@settings(max_examples=25)
def test_contours_come_back_as_they_were_placed(nest):
    document = read(sheet_dxf(nest, 0))
    _, sheet, pieces = pieces_on_sheet(nest, 0)
    for layer, wanted in {
        "SHEET_EDGE": [sheet.outline],
        "OUTER_CONTOURS": [piece.outer for piece in pieces],
        "HOLES": [hole for piece in pieces for hole in piece.holes],
    }.items():
        got = rings(document, layer)
        assert len(got) == len(wanted)
        for one, other in zip(got, wanted, strict=True):
            assert same_ring(one, other)
            if len(other.vertices) > 2:
                for mine, theirs in zip(one.vertices, other.vertices, strict=True):
                    assert mine == pytest.approx(theirs, abs=SAME_POINT / 1000)


@given(sheet_nests())
@settings(max_examples=20)
def test_marks_come_back_open(nest):
    document = read(sheet_dxf(nest, 0))
    wanted = [mark for piece in pieces_on_sheet(nest, 0)[2] for mark in piece.marks]
    got = list(document.modelspace().query('LWPOLYLINE[layer=="MARKS"]'))
    assert [len(line.get_points("xyb")) for line in got] == [len(mark.vertices) for mark in wanted]
    assert not any(line.closed for line in got)
    for line, mark in zip(got, wanted, strict=True):
        assert line.get_points("xyb")[0] == pytest.approx(mark.vertices[0], abs=1e-9)


def test_a_round_hole_is_a_circle_and_an_arc_stays_an_arc():
    document = read(sheet_dxf(nest_of(GUSSET), 0))
    (hole,) = document.modelspace().query('*[layer=="HOLES"]')
    assert (hole.dxftype(), hole.dxf.radius) == ("CIRCLE", 9)
    assert tuple(hole.dxf.center)[:2] == (190, 110)
    (outer,) = document.modelspace().query('*[layer=="OUTER_CONTOURS"]')
    assert [point[2] for point in outer.get_points("xyb")] == [0, 0, 0.2, 0, 0]


def test_two_half_circles_are_a_circle_and_a_lens_is_not():
    assert as_circle(Contour.circle(3, 4, 5)) == ((3, 4), 5)
    assert as_circle(Contour.circle(3, 4, 5).reversed()) == ((3, 4), 5)
    assert as_circle(Contour(((0, 0, 0.5), (10, 0, 0.5)))) is None
    assert as_circle(Contour(((0, 0, 1.0), (10, 0, 0.9999)))) is None
    assert as_circle(Contour(((0, 0, 1.0), (10, 0, -0.5)))) is None
    assert as_circle(Contour.rectangle(2, 2)) is None


@given(sheet_nests())
@settings(max_examples=25)
def test_labels_carry_the_piece_number_and_lie_on_the_part(nest):
    document = read(sheet_dxf(nest, 0))
    labels = list(document.modelspace().query("TEXT"))
    pieces = pieces_on_sheet(nest, 0)[2]
    assert len(labels) == len(pieces)
    for label, piece in zip(labels, pieces, strict=True):
        assert label.dxf.text.split(" ")[0] == str(piece.number)
        assert label.dxf.layer == "LABELS"
        assert -90 < label.dxf.rotation <= 90
        x, y, _ = label.dxf.align_point
        half = label.dxf.height * len(label_text(f"{piece.number} {piece.part.name}")) / 2, label.dxf.height / 2
        flat = box(x - half[0], y - half[1], x + half[0], y + half[1])
        metal = Polygon(piece.outer.polygon(1e-3))
        for hole in piece.holes:
            metal = metal.difference(Polygon(hole.polygon(1e-3)))
        assert metal.buffer(2e-3).covers(rotate(flat, label.dxf.rotation, origin=(x, y)))


@pytest.mark.parametrize("turn", [0.0, 90.0, 135.0, 180.0, 270.0])
def test_a_label_is_never_upside_down(turn):
    nest = nest_of(PANEL, placements=[Placement("panel", 400, 250, turn)])
    (label,) = read(sheet_dxf(nest, 0)).modelspace().query("TEXT")
    assert label.dxf.rotation == {0.0: 0, 90.0: 90, 135.0: -45, 180.0: 0, 270.0: 90}[turn]


@given(names)
@settings(max_examples=40)
def test_any_name_makes_a_file_that_can_be_read(name):
    document = read(sheet_dxf(nest_of(SheetPart(name, Contour.rectangle(100, 50))), 0))
    (label,) = document.modelspace().query("TEXT")
    assert label.dxf.text.startswith("1 ")
    assert not document.audit().errors


def test_control_codes_of_drawing_text_are_defused():
    # Source: DXF reference, TEXT: %%c, %%d and %%p stand for signs, %%u and %%o switch lines; ^J is a line end.
    assert "%%" not in label_text("1 %%u%%%c")
    assert "^" not in label_text("1 a^Jb")
    assert "\\" not in label_text("1 a\\U+00e9")
    assert label_text("1 a\nb\x00c") == "1 a b c"
    assert label_text("1 \U0001f600") == "1 ?"


def test_a_long_name_is_cut_off_and_says_so():
    text = label_text("12 " + "gate hinge " * 20)
    assert len(text) == LONGEST_LABEL
    assert text.endswith("…")


@given(sheet_nests())
@settings(max_examples=10)
def test_equal_nests_give_equal_bytes(nest):
    assert sheet_dxf(nest, 0) == sheet_dxf(nest, 0)


def test_the_file_holds_no_time_of_writing(monkeypatch):
    from ezdxf import document as library

    first = sheet_dxf(nest_of(GUSSET), 0)

    class Later(library.datetime):
        @classmethod
        def now(cls, tz=None):
            return cls(2031, 5, 6, 7, 8, 9, tzinfo=tz)

    monkeypatch.setattr(library, "datetime", Later)
    assert sheet_dxf(nest_of(GUSSET), 0) == first


def test_a_remnant_keeps_its_outline():
    outline = Contour(((0, 0, 0), (900, 0, 0), (900, 400, 0), (300, 400, 0), (300, 800, 0), (0, 800, 0)))
    nest = nest_of(GUSSET, sheet=Sheet("remnant 7", outline, is_remnant=True))
    (edge,) = rings(read(sheet_dxf(nest, 0)), "SHEET_EDGE")
    assert [vertex[:2] for vertex in edge.vertices] == [vertex[:2] for vertex in outline.vertices]


def test_a_sheet_that_is_not_there_is_refused():
    with pytest.raises(BadValue, match="there is none numbered 4"):
        sheet_dxf(nest_of(GUSSET), 3)


@st.composite
def rows_of_parts(draw):
    """A sheet with one to four different parts in a row that do not touch, at any turn, some mirrored."""
    parts = [draw(sheet_parts(f"part {k}", marks=False)) for k in range(draw(st.integers(1, 4)))]
    placements = [
        Placement(part.name, 150.0 + 250.0 * i + draw(st.floats(-10, 10)), 200.0, draw(turns), draw(st.booleans()))
        for i, part in enumerate(parts)
    ]
    return nest_of(*parts, placements=placements, sheet=Sheet.rectangle("1200x400", 1200, 400))


@given(rows_of_parts())
@settings(max_examples=15)
def test_our_own_reader_reads_the_same_contours_back(tmp_path_factory, nest):
    path = tmp_path_factory.mktemp("cut") / "sheet-01.dxf"
    path.write_bytes(sheet_dxf(nest, 0))
    reading = read_dxf(path, "sheet-01.dxf")
    pieces = pieces_on_sheet(nest, 0)[2]
    assert (reading.kind, reading.unit, len(reading.parts)) == ("sheet", "mm", len(pieces))
    pieces.sort(key=lambda piece: piece.outer.bounds.left)
    for part, piece in zip(reading.parts, pieces, strict=True):
        bounds = piece.outer.bounds
        assert part.bounds.width == pytest.approx(bounds.width, abs=SAME_POINT)
        assert part.bounds.height == pytest.approx(bounds.height, abs=SAME_POINT)
        assert part.outer.area == pytest.approx(piece.outer.area, rel=1e-9)
        back = [placed(hole, bounds.left, bounds.bottom) for hole in part.holes]
        assert matched(back, piece.holes)
        assert matched([placed(part.outer, bounds.left, bounds.bottom)], [piece.outer])


def matched(found, wanted):
    """Whether every ring found is one of those wanted, to a micrometre in place and size."""
    left = list(wanted)
    for ring in found:
        b = ring.bounds
        for other in left:
            o = other.bounds
            near = max(abs(b.left - o.left), abs(b.bottom - o.bottom), abs(b.right - o.right), abs(b.top - o.top))
            if near < SAME_POINT and math.isclose(ring.area, other.area, rel_tol=1e-9, abs_tol=1e-6):
                left.remove(other)
                break
        else:
            return False
    return not left
