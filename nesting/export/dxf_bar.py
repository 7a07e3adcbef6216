"""Writes one bar of a nest as a cut file: the surface of the bar laid flat, DXF in millimetres, pieces in bar order.

x runs from the bar's front, y round the section from where its outline begins. Each kind of cut has a layer of its own.
One cut that parts two pieces lies along the middle of its kerf, half of it from either contour.
What reaches over the line at which the surface was opened goes on below y = 0 or above the girth, in one contour.
"""

from itertools import pairwise

from nesting.errors import BadValue
from nesting.export.dxf_writer import add_contour, add_path, as_bytes, label_text, new_drawing
from nesting.export.pieces import BarPiece, pieces_on_bar
from nesting.geometry.contour import Contour, Path
from nesting.model.nest import BarNest, BarRules
from nesting.model.tube_cuts import EndKind
from nesting.units import CHECK_SLACK, Deg

BAR_EDGE, END_CUTS, SHARED_CUTS, CUT_OUTS, LABELS = "BAR_EDGE", "END_CUTS", "SHARED_CUTS", "CUT_OUTS", "LABELS"

COLOURS = {BAR_EDGE: 8, END_CUTS: 5, SHARED_CUTS: 3, CUT_OUTS: 1, LABELS: 4}
"""Colour index of each layer: grey, blue, green, red, cyan, as on cut files of sheets."""

FLAT_ON: Deg = 1e-3
"""Ends whose angles differ by less lie flat on each other: 2 um over a tube 100 mm across."""

LETTER = 0.08
"""Height of letters over the girth."""


def bar_dxf(nest: BarNest, index: int) -> bytes:
    """The cut file of the bar at `index` from 0; equal nests give equal bytes.

    Raises:
        BadValue: there is no such bar, it names stock or parts that the job does not have, or the ends of a part are
            not known, so that there is nothing to draw, or a piece is turned as its section does not allow.
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
    shared = [_shared_cut(one, other, nest.job.rules) for one, other in pairwise(pieces)]
    for piece, before, behind in zip(pieces, [None, *shared], [*shared, None], strict=True):
        assert piece.ends is not None  # noqa: S101 - looked at above
        start, end = piece.ends
        if before is None:
            add_path(space, start.path, END_CUTS)
        # Openings stand before the cut that parts the piece from the bar, as they are cut.
        for ring in piece.cut_outs:
            add_contour(space, ring, CUT_OUTS)
        if behind is None:
            add_path(space, end.path, END_CUTS)
        else:
            add_path(space, behind, SHARED_CUTS)
        text = label_text(f"{piece.number} {piece.part.name}")
        middle = (piece.start + piece.end) / 2.0
        height = min(LETTER * girth, 0.8 * piece.part.length / max(1, len(text)))
        space.add_text(text, height=height, dxfattribs={"layer": LABELS}).set_placement(
            (middle - 0.5 * height * len(text), 0.5 * girth)
        )
    return as_bytes(drawing)


def _shared_cut(piece: BarPiece, following: BarPiece, rules: BarRules) -> Path | None:
    """The line of the one cut between two pieces; None where each end has a cut of its own."""
    if rules.shared_cut is None or piece.ends is None or following.ends is None:
        return None
    end, start = piece.ends[1], following.ends[0]
    if end.kind is not start.kind or end.kind not in (EndKind.SQUARE, EndKind.MITRE):
        return None
    if end.kind is EndKind.MITRE:
        apart = (end.towards - start.towards) % 360.0  # flat on each other, their long points are at opposite sides
        if abs(end.angle - start.angle) > FLAT_ON or abs(apart - 180.0) > FLAT_ON:
            return None
    between = start.path.mean_x - end.path.mean_x
    if between > rules.gap - CHECK_SLACK:
        return None
    return Path(tuple((x + between / 2.0, s, bulge) for x, s, bulge in end.path.vertices))
