"""Writes one bar of a nest as a cut file: the surface of the bar laid flat, DXF in millimetres, pieces in bar order.

x runs from the bar's front, y round the section from where its outline begins. Each kind of cut has a layer of its own.
What reaches over the line at which the surface was opened goes on below y = 0 or above the girth, in one contour.
"""

from nesting.errors import BadValue
from nesting.export.dxf_writer import add_contour, add_path, as_bytes, label_text, new_drawing
from nesting.export.pieces import pieces_on_bar
from nesting.geometry.contour import Contour, Path
from nesting.model.nest import BarNest
from nesting.units import Mm

BAR_EDGE, END_CUTS, CUT_OUTS, LABELS = "BAR_EDGE", "END_CUTS", "CUT_OUTS", "LABELS"

COLOURS = {BAR_EDGE: 8, END_CUTS: 5, CUT_OUTS: 1, LABELS: 4}
"""Colour index of each layer: grey, blue, red, cyan, as on cut files of sheets."""

LETTER = 0.08
"""Height of letters over the girth."""


def bar_dxf(nest: BarNest, index: int) -> bytes:
    """The cut file of the bar at `index` from 0; equal nests give equal bytes.

    Raises:
        BadValue: there is no such bar, it names stock or parts that the job does not have, or the ends of a part are
            not known, so that there is nothing to draw.
    """
    _, bar, pieces = pieces_on_bar(nest, index)
    unknown = next((piece.part.name for piece in pieces if piece.part.ends is None), None)
    if not pieces or unknown is not None:
        raise BadValue(f"Bar {index + 1} has no cut file: the end cuts of {unknown or 'its pieces'} are not known.")
    girth = pieces[0].part.section.girth
    edge = Contour.rectangle(bar.length, girth)
    drawing = new_drawing(edge.bounds, COLOURS)
    space = drawing.modelspace()
    add_contour(space, edge, BAR_EDGE)
    for piece in pieces:
        start, end = (_moved(cut.path, piece.start) for cut in piece.part.ends or ())
        add_path(space, start, END_CUTS)
        # Openings stand before the cut that parts the piece from the bar, as they are cut.
        for cut in piece.part.cut_outs:
            # In open profiles the beam goes through both faces of a wall at once: one contour is one cut.
            add_contour(space, _moved(cut.contours[0], piece.start), CUT_OUTS)
        add_path(space, end, END_CUTS)
        text = label_text(f"{piece.number} {piece.part.name}")
        middle = (piece.start + piece.end) / 2.0
        height = min(LETTER * girth, 0.8 * piece.part.length / max(1, len(text)))
        space.add_text(text, height=height, dxfattribs={"layer": LABELS}).set_placement(
            (middle - 0.5 * height * len(text), 0.5 * girth)
        )
    return as_bytes(drawing)


def _moved[P: Path](path: P, by: Mm) -> P:
    return type(path)(tuple((x + by, s, bulge) for x, s, bulge in path.vertices))
