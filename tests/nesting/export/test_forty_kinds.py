"""A whole nest of forty kinds of part, laid by the real engine, written, and judged from its cut files alone.

One look is our own reader's, the other takes nothing of ours: ezdxf reads the files, shapely measures them.
"""

import io
import math
from collections import Counter
from itertools import combinations

import ezdxf
import pytest
from shapely.geometry import Polygon

from nesting import route
from nesting.geometry.contour import Contour, Path
from nesting.model.nest import Demand, SheetJob, SheetRules
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from tests.shop_parts import angle, flange, frame, gusset, link, plate, rounded, triangle

GAP, MARGIN = 5.0, 10.0
CHORD = 1e-4
MEASURED = 3e-3
"""mm by which chords of that height and the checker's slack may be off."""


def slotted(name, width, height):
    """A plate with a slot that has round ends, and a line and a ring to mark."""
    r, x, y = 5.0, 20.0, height / 2.0
    slot = Contour(((x, y - r, 0.0), (width - 20.0, y - r, 1.0), (width - 20.0, y + r, 0.0), (x, y + r, 1.0)))
    marks = (Path(((8.0, 6.0, 0.0), (width - 8.0, 6.0, 0.0))), Contour.circle(width / 2.0, height - 8.0, 4.0))
    return SheetPart(name, rounded(width, height, 6.0), (slot,), marks)


def lens_window(name, side):
    """A square with a window of two arcs."""
    lens = Contour(((side * 0.2, side / 2.0, 0.45), (side * 0.8, side / 2.0, 0.45)))
    return SheetPart(name, rounded(side, side, 9.0), (lens,))


def forty():
    parts = []
    for k in range(5):
        parts += [
            plate(f"Platte {k} ä", 120.0 + 17.0 * k, 80.0 + 9.0 * k),
            flange(f"flange {k}", 90.0 + 20.0 * k, 40.0 + 7.0 * k, bolts=3 + k),
            gusset(f"gusset {k}", 110.0 + 13.0 * k, 90.0 + 11.0 * k),
            angle(f"angle {k}", 140.0 + 10.0 * k, 120.0 + 15.0 * k, 40.0),
            link(f"link {k}", 100.0 + 25.0 * k, 30.0 + 2.0 * k),
            frame(f"frame {k}", 180.0 + 20.0 * k, 150.0 + 10.0 * k, 22.0),
            slotted(f"slotted {k}", 130.0 + 12.0 * k, 60.0 + 5.0 * k),
            lens_window(f"lens {k}", 70.0 + 8.0 * k) if k % 2 else triangle(f"corner {k}", 60.0 + 9.0 * k, 50.0),
        ]
    return parts


@pytest.fixture(scope="module")
def nest():
    """Three of each kind; every other kind may be turned only by half turns."""
    parts = forty()
    assert len({part.name for part in parts}) == 40
    turns = [None, (0.0, 180.0)]
    demands = tuple(Demand(part, 3, turns[k % 2]) for k, part in enumerate(parts))
    stock = (Sheet.rectangle("1500x1000", 1500.0, 1000.0), Sheet.rectangle("1000x500", 1000.0, 500.0, 2))
    seen = []
    found = route.lay_out(
        SheetJob(stock, SheetRules(GAP, MARGIN), demands),
        budget=120.0,
        seed=40,
        on_progress=seen.append,
        should_stop=lambda: bool(seen) and not seen[-1].unplaced,
    )
    assert found.placed_count == 120
    return found


@pytest.fixture(scope="module")
def files(nest):
    return [route.sheet_cut_file(nest, index) for index in range(len(nest.layouts))]


@pytest.fixture(scope="module")
def documents(files):
    return [ezdxf.read(io.StringIO(data.decode("cp1252"), newline=None)) for data in files]


def wanted(nest, index):
    """The parts on one sheet, one for each piece."""
    parts = {demand.part.name: demand.part for demand in nest.job.demands}
    return [parts[p.part] for p in nest.layouts[index].placements]


def polygon(entity):
    """The ring in chords on its arcs, as ezdxf takes it apart."""
    if entity.dxftype() == "CIRCLE":
        return Polygon([(p.x, p.y) for p in entity.flattening(CHORD)])
    points = []
    for start, piece in zip(entity.get_points("xy"), entity.virtual_entities(), strict=True):
        run = list(piece.flattening(CHORD)) if piece.dxftype() == "ARC" else [piece.dxf.start, piece.dxf.end]
        # An ARC runs anticlockwise, whichever way the ring does.
        first, last = (math.dist(start, (p.x, p.y)) for p in (run[0], run[-1]))
        points += [(p.x, p.y) for p in (run if first < last else reversed(run))][:-1]
    return Polygon(points)


def on_layer(document, layer):
    return list(document.modelspace().query(f'*[layer=="{layer}"]'))


def test_every_file_is_a_sound_drawing_in_millimetres(documents):
    for document in documents:
        # Source: DXF reference, $INSUNITS 4 is millimetres; AC1015 is release 2000.
        assert (document.header["$INSUNITS"], document.dxfversion) == (4, "AC1015")
        auditor = document.audit()
        assert not auditor.errors
        assert not auditor.fixes
        assert {entity.dxf.layer for entity in document.modelspace()} <= {
            *("SHEET_EDGE", "OUTER_CONTOURS", "HOLES", "MARKS", "LABELS")
        }


def test_everything_that_is_cut_is_closed_and_lies_flat(documents):
    for document in documents:
        for layer in ("SHEET_EDGE", "OUTER_CONTOURS", "HOLES"):
            for entity in on_layer(document, layer):
                assert entity.dxftype() == "CIRCLE" or (entity.dxftype() == "LWPOLYLINE" and entity.closed)
                assert entity.dxf.extrusion == (0, 0, 1)
                heights = entity.dxf.center.z if entity.dxftype() == "CIRCLE" else entity.dxf.elevation
                assert heights == 0.0


def arcs(ring):
    """How many arcs a ring of ours has, by their angle in degrees; a circle is one whole turn."""
    if len(ring.vertices) == 2 and all(bulge in (1.0, -1.0) for _, _, bulge in ring.vertices):
        return Counter([360])
    return Counter(round(4.0 * math.degrees(math.atan(abs(bulge)))) for _, _, bulge in ring.vertices if bulge)


def test_arcs_are_arcs_and_circles_are_circles(nest, documents):
    for index, document in enumerate(documents):
        drawn = Counter()
        for entity in on_layer(document, "OUTER_CONTOURS") + on_layer(document, "HOLES"):
            if entity.dxftype() == "CIRCLE":
                drawn[360] += 1
            else:
                bulges = [row[0] for row in entity.get_points("b") if row[0]]
                drawn += Counter(round(4.0 * math.degrees(math.atan(abs(bulge)))) for bulge in bulges)
        rings = [ring for part in wanted(nest, index) for ring in (part.outer, *part.holes)]
        assert drawn == sum((arcs(ring) for ring in rings), Counter())
        assert max(drawn) == 360


def test_a_plain_library_finds_the_areas_and_lengths_of_the_parts(nest, documents):
    for index, document in enumerate(documents):
        outer = [polygon(entity) for entity in on_layer(document, "OUTER_CONTOURS")]
        holes = [polygon(entity) for entity in on_layer(document, "HOLES")]
        parts = wanted(nest, index)
        assert (len(outer), len(holes)) == (len(parts), sum(len(part.holes) for part in parts))
        area = sum(shape.area for shape in outer) - sum(shape.area for shape in holes)
        # Source: the parts' own areas by closed formula, tested in tests/nesting/geometry.
        assert area == pytest.approx(sum(part.area for part in parts), rel=1e-5)
        length = sum(shape.length for shape in (*outer, *holes))
        assert length == pytest.approx(sum(part.cut_length for part in parts), rel=1e-5)
        assert len(on_layer(document, "MARKS")) == sum(len(part.marks) for part in parts)


def test_each_label_names_its_piece_and_lies_on_it(nest, documents):
    for index, document in enumerate(documents):
        outer = [polygon(entity) for entity in on_layer(document, "OUTER_CONTOURS")]
        labels = on_layer(document, "LABELS")
        assert len(labels) == len(outer)
        for number, (label, part, shape) in enumerate(zip(labels, wanted(nest, index), outer, strict=True), 1):
            assert label.dxf.text.split(" ")[0] == str(number)
            # The middle of the letters; a label too large for its part shows the number alone.
            assert label.dxf.text in (f"{number} {part.name}", str(number))
            place = label.dxf.align_point if label.dxf.hasattr("align_point") else label.dxf.insert
            assert shape.buffer(0.1).contains(
                Polygon([(place.x + dx, place.y + dy) for dx, dy in ((0, 0), (0.01, 0), (0, 0.01))])
            )


def test_shapely_alone_finds_every_part_on_its_sheet_with_gap_and_margin(documents):
    for document in documents:
        (edge,) = on_layer(document, "SHEET_EDGE")
        sheet = polygon(edge)
        holes = [polygon(entity) for entity in on_layer(document, "HOLES")]
        shapes = []
        for entity in on_layer(document, "OUTER_CONTOURS"):
            whole = polygon(entity)
            # A hole is the part's own where no other outline lies between: those lie whole in the hole.
            own = [hole for hole in holes if whole.covers(hole)]
            shapes.append((whole, own))
        metal = []
        for whole, own in shapes:
            inner = [other for other, _ in shapes if other is not whole and whole.covers(other)]
            mine = [hole for hole in own if not any(other.covers(hole) for other in inner)]
            piece = whole
            for hole in mine:
                piece = piece - hole
            metal.append(piece)
        for piece in metal:
            assert sheet.covers(piece)
            assert sheet.exterior.distance(piece) > MARGIN - MEASURED
        for one, other in combinations(metal, 2):
            assert one.distance(other) > GAP - MEASURED


def test_our_own_reader_reads_every_piece_back(nest, files, tmp_path):
    for index, data in enumerate(files):
        path = tmp_path / f"sheet-{index + 1:02d}.dxf"
        path.write_bytes(data)
        reading = route.read_drawing(path)
        assert (reading.kind, reading.unit) == ("sheet", "mm")
        assert not any(finding.blocks for finding in reading.findings)

        def figures(part):
            return (len(part.holes), round(part.area, 4), round(part.cut_length, 4), len(part.marks))

        found = sorted(figures(part) for part in reading.parts)
        drawn = sorted(figures(part) for part in wanted(nest, index))
        assert [row[0] for row in found] == [row[0] for row in drawn]
        for row, other in zip(found, drawn, strict=True):
            assert row == pytest.approx(other, abs=2e-4)
