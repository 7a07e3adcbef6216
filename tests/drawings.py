"""Drawings for tests of the DXF reader: written with ezdxf in every version and manner, or as raw text.

`read` gives what the reader makes of a drawing; `drawn_parts` are parts with the drawing they were put into.
"""

import io
import math
import tempfile
from itertools import pairwise
from pathlib import Path as FilePath

import ezdxf
from ezdxf.math import rational_bspline_from_arc
from hypothesis import strategies as st

from nesting.drawing.dxf_reader import DxfOptions, read_dxf
from nesting.geometry.arcs import arc_angle, arc_circle
from nesting.geometry.contour import Contour, Path
from nesting.geometry.placing import placed
from nesting.model.part import SheetPart
from tests.strategies import holes, rings

VERSIONS = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")

MANNERS = ("whole", "loose", "split", "doubled", "block", "mirrored block", "splines")


def drawing(version="R2010", unit=ezdxf.units.MM):
    """A new drawing and its model space."""
    document = ezdxf.new(version, units=unit)
    return document, document.modelspace()


def as_bytes(document, *, binary=False):
    """The file, ASCII or binary."""
    if binary:
        stream = io.BytesIO()
        document.write(stream, fmt="bin")
        return stream.getvalue()
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode(document.output_encoding)


def read(content, name="plate.dxf", **options):
    """What the reader makes of a drawing, text or bytes."""
    if isinstance(content, str):
        content = content.encode()
    elif not isinstance(content, bytes | bytearray):
        content = as_bytes(content)
    with tempfile.TemporaryDirectory() as folder:
        path = FilePath(folder) / "upload"
        path.write_bytes(content)
        return read_dxf(path, name, DxfOptions(**options))


def findings(reading, code):
    return [finding for finding in reading.findings if finding.code == code]


def codes(reading):
    return [finding.code for finding in reading.findings]


def raw_dxf(entities, version="AC1015", unit=4):
    """A small file written by hand: `entities` is the text of the section, unit None leaves it out of the header."""
    header = f"  9\n$ACADVER\n  1\n{version}\n"
    if unit is not None:
        header += f"  9\n$INSUNITS\n 70\n{unit}\n"
    sections = (("HEADER", header), ("ENTITIES", entities))
    return "".join(f"  0\nSECTION\n  2\n{name}\n{rows}  0\nENDSEC\n" for name, rows in sections) + "  0\nEOF\n"


def tags(*pairs):
    """Group codes and values as text: tags(0, "LINE", 10, 1.5)."""
    return "".join(f"{code:>3}\n{value}\n" for code, value in zip(pairs[::2], pairs[1::2], strict=True))


def add_rectangle(space, width, height, x=0.0, y=0.0, **attributes):
    """A closed polyline."""
    corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    if space.doc.dxfversion == "AC1009":
        return space.add_polyline2d(corners, close=True, dxfattribs=attributes)
    return space.add_lwpolyline(corners, close=True, dxfattribs=attributes)


def add_lines(space, corners, *, closed=True, **attributes):
    """Single lines from corner to corner."""
    for a, b in pairwise([*corners, corners[0]] if closed else corners):
        space.add_line(a, b, dxfattribs=attributes)


def add_span(space, start, end, bulge, *, reverse=False, as_spline=False, **attributes):
    """One LINE or ARC; an arc always runs anticlockwise in a DXF file."""
    if not bulge:
        space.add_line(*((end, start) if reverse else (start, end)), dxfattribs=attributes)
        return
    centre, radius = arc_circle(start, end, bulge)
    first = math.degrees(math.atan2(start[1] - centre[1], start[0] - centre[0]))
    last = math.degrees(math.atan2(end[1] - centre[1], end[0] - centre[0]))
    if bulge < 0:
        first, last = last, first
    if as_spline:
        spline = rational_bspline_from_arc(centre, radius, first, last if last > first else last + 360.0)
        space.add_rational_spline(
            spline.control_points, spline.weights(), spline.degree, spline.knots(), dxfattribs=attributes
        )
    else:
        space.add_arc(centre, radius, first, last, dxfattribs=attributes)


def spans(ring):
    """(start, end, bulge) all round."""
    follow = ring.vertices[1:] + ring.vertices[:1]
    return [((a[0], a[1]), (b[0], b[1]), a[2]) for a, b in zip(ring.vertices, follow, strict=True)]


def halves(start, end, bulge, share):
    """A span cut in two at a share of its length."""
    if not bulge:
        middle = (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))
        return [(start, middle, 0.0), (middle, end, 0.0)]
    centre, radius = arc_circle(start, end, bulge)
    angle = math.atan2(start[1] - centre[1], start[0] - centre[0]) + share * arc_angle(bulge)
    middle = (centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle))
    quarter = math.atan(bulge)
    return [(start, middle, math.tan(quarter * share)), (middle, end, math.tan(quarter * (1.0 - share)))]


def add_ring(space, ring, manner, random, **attributes):
    """The ring in one of the `MANNERS`; blocks are for the caller."""
    if manner in ("whole", "block", "mirrored block"):
        if len(ring.vertices) == 2 and all(vertex[2] == 1.0 for vertex in ring.vertices) and random.random() < 0.5:
            bounds = ring.bounds
            middle = ((bounds.left + bounds.right) / 2.0, (bounds.bottom + bounds.top) / 2.0)
            space.add_circle(middle, bounds.width / 2.0, dxfattribs=attributes)
        elif space.doc.dxfversion == "AC1009":
            space.add_polyline2d(ring.vertices, format="xyb", close=True, dxfattribs=attributes)
        else:
            space.add_lwpolyline(ring.vertices, format="xyb", close=True, dxfattribs=attributes)
        return
    pieces = spans(ring)
    if manner == "split":
        pieces = [half for piece in pieces for half in halves(*piece, random.uniform(0.1, 0.9))]
    if manner == "doubled":
        pieces += random.sample(pieces, random.randint(1, len(pieces)))
        longest = max((piece for piece in pieces), key=lambda piece: math.dist(piece[0], piece[1]))
        pieces.append(halves(*longest, 0.6)[0])
    random.shuffle(pieces)
    for start, end, bulge in pieces:
        reverse = random.random() < 0.5
        add_span(space, start, end, bulge, reverse=reverse, as_spline=manner == "splines", **attributes)


def draw_part(part, version, manner, random):
    """A drawing in millimetres of the part."""
    document, space = drawing(version)
    contours = [part.outer, *part.holes]
    random.shuffle(contours)
    if "block" in manner:
        block = document.blocks.new("PART")
        flip = -1.0 if manner == "mirrored block" else 1.0
        for ring in contours:
            # Mirrored in the block, so that the mirrored block reference shows the part itself.
            flipped = Contour(tuple((flip * x, y, flip * b) for x, y, b in ring.vertices))
            add_ring(block, flipped, manner, random)
        space.add_blockref("PART", (0, 0), dxfattribs={"xscale": flip})
    else:
        for ring in contours:
            add_ring(space, ring, manner, random)
    return document


@st.composite
def parts(draw):
    """A part with up to four holes, turned and shifted to anywhere."""
    places = [(-12.0, -12.0), (12.0, -12.0), (12.0, 12.0), (-12.0, 12.0)]
    chosen = draw(st.lists(st.sampled_from(places), unique=True))
    turn, x, y = draw(st.floats(0.0, 360.0)), draw(st.floats(-2000.0, 2000.0)), draw(st.floats(-2000.0, 2000.0))
    outer = placed(draw(rings()), x, y, turn)
    return SheetPart("part", outer, tuple(placed(draw(holes(*place)), x, y, turn) for place in chosen))


def as_path(*points):
    return Path(tuple((x, y, 0.0) for x, y in points))
