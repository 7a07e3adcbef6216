"""Writes one sheet of a nest as a cut file: DXF in millimetres, every contour closed and in its true position.

R2000 is the oldest release that holds polylines with arcs and the unit of the drawing, so it is what the most machine
controls read. Arcs are arcs: a contour is one closed polyline with bulges, a round one a circle. What is cut, what is
marked and what is only to be read lie on layers of their own, so that a label cannot be cut by mistake.
"""

import io
import re
from collections.abc import Mapping

from ezdxf import units
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace
from ezdxf.version import __version__ as library_version

from nesting.export.label_room import LabelRoom, LabelSpot
from nesting.export.pieces import SheetPiece, pieces_on_sheet
from nesting.geometry.contour import Bounds, Contour, Path
from nesting.geometry.placing import turn_vector
from nesting.model.nest import SheetNest
from nesting.units import SAME_POINT, Mm, Point

SHEET_EDGE, OUTER_CONTOURS, HOLES, MARKS, LABELS = "SHEET_EDGE", "OUTER_CONTOURS", "HOLES", "MARKS", "LABELS"

COLOURS = {SHEET_EDGE: 8, OUTER_CONTOURS: 5, HOLES: 1, MARKS: 3, LABELS: 4}
"""Colour index of each layer: grey, blue, red, green, cyan, all of which show on dark and on light screens."""

TALLEST_LABEL: Mm = 20.0
"""Letters need not grow with the part: 20 mm reads across a machine bed."""

LETTER_WIDTH = 1.0
"""Width of a letter over its height in the plain stroke fonts of machine controls, common practice, no source."""

LONGEST_LABEL = 40
"""Letters of a label; a longer name is cut off, for it would shrink the piece number beyond reading."""


def sheet_dxf(nest: SheetNest, index: int) -> bytes:
    """The cut file of the layout at `index` from 0; equal nests give equal bytes.

    Raises:
        BadValue: there is no such sheet, or it names stock or parts that the job does not have.
    """
    _, sheet, pieces = pieces_on_sheet(nest, index)
    drawing = new_drawing(sheet.outline.bounds, COLOURS)
    space = drawing.modelspace()
    add_contour(space, sheet.outline, SHEET_EDGE)
    rooms: dict[str, LabelRoom] = {}
    spots: dict[tuple[str, int], LabelSpot] = {}
    for piece in pieces:
        # Holes stand before the outside, as they are cut: a part that has been cut out no longer lies still.
        for hole in piece.holes:
            add_contour(space, hole, HOLES)
        for mark in piece.marks:
            add_path(space, mark, MARKS)
        add_contour(space, piece.outer, OUTER_CONTOURS)
        _add_label(space, piece, rooms, spots)
    return as_bytes(drawing)


def new_drawing(bounds: Bounds, colours: Mapping[str, int]) -> Drawing:
    """An empty drawing in millimetres with those layers, shown whole when it is opened."""
    drawing = new("R2000", units=units.MM)
    drawing.header["$MEASUREMENT"] = 1
    for name, colour in colours.items():
        drawing.layers.add(name, color=colour)
    space = drawing.modelspace()
    # The header is set beside the space: the library does not carry over extents that begin at the origin.
    low, high = (bounds.left, bounds.bottom, 0.0), (bounds.right, bounds.top, 0.0)
    drawing.header["$EXTMIN"], drawing.header["$EXTMAX"] = low, high
    space.reset_extents(low, high)
    space.reset_limits((bounds.left, bounds.bottom), (bounds.right, bounds.top))
    middle = ((bounds.left + bounds.right) / 2.0, (bounds.bottom + bounds.top) / 2.0)
    drawing.set_modelspace_vport(height=max(bounds.width, bounds.height) * 1.1, center=middle)
    return drawing


def add_contour(space: Modelspace, contour: Contour, layer: str) -> None:
    """Puts a ring on a layer, a round one as a circle."""
    circle = as_circle(contour)
    if circle is not None:
        space.add_circle(circle[0], circle[1], dxfattribs={"layer": layer})
    else:
        space.add_lwpolyline(contour.vertices, format="xyb", close=True, dxfattribs={"layer": layer})


def add_path(space: Modelspace, path: Path, layer: str) -> None:
    """Puts a ring or an open run on a layer."""
    if isinstance(path, Contour):
        add_contour(space, path, layer)
    else:
        space.add_lwpolyline(path.vertices, format="xyb", dxfattribs={"layer": layer})


def as_circle(contour: Contour) -> tuple[Point, Mm] | None:
    """Centre and radius of a ring of two half circles, or None for any other ring."""
    if len(contour.vertices) != 2:
        return None
    (x1, y1, first), (x2, y2, second) = contour.vertices
    radius: Mm = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5 / 2.0
    # A bulge off by e moves the top of its half circle by e times the radius.
    if first * second < 0 or max(abs(abs(first) - 1.0), abs(abs(second) - 1.0)) * radius > SAME_POINT / 10.0:
        return None
    return ((x1 + x2) / 2.0, (y1 + y2) / 2.0), radius


def _add_label(
    space: Modelspace, piece: SheetPiece, rooms: dict[str, LabelRoom], spots: dict[tuple[str, int], LabelSpot]
) -> None:
    """Piece number and part name as text on the part, along its length where that makes it larger."""
    text = label_text(f"{piece.number} {piece.part.name}")
    key = (piece.part.name, len(text))
    if key not in spots:
        room = rooms.setdefault(piece.part.name, LabelRoom(piece.part))
        spots[key] = room.widest(len(text) * LETTER_WIDTH, TALLEST_LABEL, (0.0, 90.0))
    spot, placement = spots[key], piece.placement
    cos, sin = turn_vector(placement.turn)
    x = -spot.x if placement.mirrored else spot.x
    where = (x * cos - spot.y * sin + placement.x, x * sin + spot.y * cos + placement.y)
    turn = (spot.turn + placement.turn) % 180.0
    # Read from below or from the right, as drawings are: never upside down.
    entity = space.add_text(
        text, height=spot.height, rotation=turn if turn <= 90.0 else turn - 180.0, dxfattribs={"layer": LABELS}
    )
    entity.set_placement(where, align=TextEntityAlignment.MIDDLE_CENTER)


def label_text(text: str) -> str:
    """The text as a drawing can hold it: one line, no control codes, not longer than LONGEST_LABEL letters."""
    # Letters beyond the 65,536 that \U+ can number would come out as a code; a question mark shows that one is there.
    plain = "".join("?" if letter > "\uffff" else letter if letter.isprintable() else " " for letter in text)
    plain = plain if len(plain) <= LONGEST_LABEL else plain[: LONGEST_LABEL - 1] + "…"
    # In drawing text %% opens a code such as the diameter sign, ^ a control code and \U+ a letter by its number.
    return re.sub("%(?=%)", "% ", plain).replace("^", "'").replace("\\", "/")


def as_bytes(drawing: Drawing) -> bytes:
    """The file, with nothing in it that differs from one writing to the next."""
    stream = io.StringIO()
    drawing.write(stream)
    # The library stamps time and fresh identities into every file; fixed ones keep equal nests equal byte for byte.
    text = re.sub(r"(\$TDU?(?:CREATE|UPDATE)\n\s*40\n)[^\n]*", r"\g<1>2451544.5", stream.getvalue())
    text = re.sub(
        r"(\$(?:FINGERPRINT|VERSION)GUID\n\s*2\n)[^\n]*", rf"\g<1>{{{'0' * 8}-0000-0000-0000-{'0' * 12}}}", text
    )
    text = re.sub(rf"(\n\s*1\n){re.escape(library_version)} @ [^\n]*", r"\g<1>nesting", text)
    return drawing.encode(text)
