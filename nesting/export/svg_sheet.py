"""The picture of one sheet with its pieces, for desk, tablet and paper.

Each part is drawn once as a definition and used at every place, so that thousands of pieces stay a small file. A piece
is `<g class="piece" data-piece="7" data-part="gusset">`; fill and line are set on that group and inherited by the
shape, so a page can colour a piece by its state.
"""

import hashlib
import math
from collections import Counter

import shapely
from shapely.geometry import Polygon

from nesting.export.label_room import LabelRoom, LabelSpot
from nesting.export.pieces import SheetPiece, pieces_on_sheet
from nesting.export.svg_dimensions import across, upright
from nesting.export.svg_paths import View, escaped, hatching, measure, number, path_data, picture, point, text
from nesting.geometry.contour import Bounds, Contour
from nesting.geometry.placing import turn_vector
from nesting.model.nest import SheetNest, Sides
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.units import PICTURE_CHORD, Mm

TINTS = 4
"""Fills that tell neighbouring kinds of part apart; with more kinds than tints they come round again."""

DIGIT_ASPECT = 1.0
"""Width of a figure over its height, with a little air."""

CAPITAL = 0.9
"""Height of a figure over the font size, with a little air."""

CROWD = 1000
"""More pieces than this carry no title and no focus of their own: nobody steps through so many one by one, and the
picture stays under a megabyte.
"""

SHARP = 'vector-effect="non-scaling-stroke" stroke-linejoin="round"'


def sheet_svg(nest: SheetNest, index: int, remnant: Contour | None = None) -> str:
    """The layout at `index` from 0; `remnant` is the off-cut to keep, in sheet coordinates.

    Raises:
        BadValue: there is no such sheet, or it names stock or parts that the job does not have.
    """
    layout, sheet, pieces = pieces_on_sheet(nest, index)
    bounds = sheet.outline.bounds
    size = max(bounds.width, bounds.height)
    letter = size / 56.0
    room = 3.0 * letter
    kinds = {demand.part.name: k for k, demand in enumerate(nest.job.demands)}
    shapes = _definitions(pieces)
    drawn = "".join(f'<g id="{name}">{shape}</g>' for name, shape in dict(shapes.values()).items())
    body = [f"<defs>{drawn}</defs>", f'<path class="sheet" d="{path_data([sheet.outline])}"/>']
    body.append(_margin(sheet, nest.job.rules.margin))
    if remnant is not None:
        body.append(_remnant(remnant, letter))
    body.append(_kept_free(sheet, nest.job.rules.sides, letter))
    labels = _Labels(tallest=size / 60.0)
    is_crowded = len(pieces) > CROWD
    body += [
        _piece(p, shapes[p.part.name][0], kinds[p.part.name] % TINTS + 1, labels, is_crowded=is_crowded)
        for p in sorted(pieces, key=_reach)
    ]
    body.append(_corner(bounds, 0.6 * letter))
    body.append(across(bounds.left, bounds.right, bounds.bottom - 2.2 * letter, letter, from_y=bounds.bottom))
    body.append(upright(bounds.bottom, bounds.top, bounds.left - 1.2 * letter, letter, from_x=bounds.left))
    title = f"Sheet {index + 1} of {len(nest.layouts)}: {sheet.name}"
    return picture(
        "sheet-picture", View.around(bounds, room, room, letter, letter), title, _words(pieces, layout.copies), body
    )


def _reach(piece: SheetPiece) -> float:
    """Order of drawing: a piece in the hole of another comes after it, and so lies on top of what is touched there."""
    return -piece.part.outer.area if piece.part.holes else 0.0


def _words(pieces: list[SheetPiece], copies: int) -> str:
    counts = Counter(piece.part.name for piece in pieces)
    listed = ", ".join(f"{count} {name}" for name, count in counts.items())
    again = f" To be cut {copies} times." if copies > 1 else ""
    return f"{len(pieces)} pieces: {listed}.{again}" if pieces else "No pieces."


def _definitions(pieces: list[SheetPiece]) -> dict[str, tuple[str, str]]:
    """For each part's name the id and the drawing of its shape.

    The id comes from the shape, so two pictures on one page cannot mix theirs up.
    """
    shapes: dict[str, tuple[str, str]] = {}
    for piece in pieces:
        part = piece.part
        if part.name not in shapes:
            # A rule such as `.picture path` does not reach into a used shape, so what it needs stands on it.
            shape = f'<path {SHARP} fill-rule="evenodd" d="{path_data((part.outer, *part.holes))}"/>'
            if part.holes:
                # A finger in a glove points at a flange, not at its rim: the holes are touched with the piece.
                shape += f'<path fill="none" stroke="none" pointer-events="all" d="{path_data(part.holes)}"/>'
            if part.marks:
                shape += f'<path {SHARP} fill="none" stroke-dasharray="1.5 2.5" d="{path_data(part.marks)}"/>'
            shapes[part.name] = ("p" + hashlib.blake2s(shape.encode(), digest_size=4).hexdigest(), shape)
    return shapes


def _margin(sheet: Sheet, margin: Mm) -> str:
    """The dashed line that parts must not cross."""
    if not margin:
        return ""
    inside = Polygon(sheet.outline.polygon(PICTURE_CHORD)).buffer(-margin, join_style="mitre")
    rings = [each for each in shapely.get_parts(inside) if isinstance(each, Polygon) and not each.is_empty]
    data = "".join("M" + "L".join(point(x, y) for x, y in ring.exterior.coords[:-1]) + "Z" for ring in rings)
    return f'<path class="margin" d="{data}"/>' if data else ""


def _kept_free(sheet: Sheet, sides: Sides, letter: Mm) -> str:
    """The strips along the sheet's sides where nothing may lie, hatched."""
    b = sheet.outline.bounds
    strips = (
        ("left", sides.left, (b.left, b.bottom, b.left + sides.left, b.top)),
        ("bottom", sides.bottom, (b.left, b.bottom, b.right, b.bottom + sides.bottom)),
        ("right", sides.right, (b.right - sides.right, b.bottom, b.right, b.top)),
        ("top", sides.top, (b.left, b.top - sides.top, b.right, b.top)),
    )
    drawn = ""
    for side, width, strip in strips:
        if not width:
            continue
        # A strip that is wider than the sheet ends where the sheet does.
        left, bottom = max(strip[0], b.left), max(strip[1], b.bottom)
        right, top = min(strip[2], b.right), min(strip[3], b.top)
        corners = ((left, bottom), (right, bottom), (right, top), (left, top))
        box = f"M{'L'.join(point(x, y) for x, y in corners)}Z"
        lines = hatching(left, bottom, right, top, letter)
        drawn += f'<path class="hatch" d="{box}{lines}"><title>Kept free, {side}: {measure(width)}</title></path>'
    return drawn


def _corner(bounds: Bounds, size: Mm) -> str:
    """A wedge outside the corner that the cut file counts from, so that the sheet is loaded the right way round."""
    wedge = f"M{point(bounds.left, bounds.bottom)}h{number(-size)}l{number(size)} {number(size)}Z"
    return f'<path class="corner" d="{wedge}"><title>Corner zero</title></path>'


def _remnant(remnant: Contour, letter: Mm) -> str:
    bounds = remnant.bounds
    label = f"remnant {measure(bounds.width)} × {measure(bounds.height)}"
    spot = LabelRoom(SheetPart("remnant", remnant)).widest(len(label) * DIGIT_ASPECT, CAPITAL * letter, (0.0, 90.0))
    words = text(spot.x, spot.y, spot.height / CAPITAL, label, css="quiet", turn=spot.turn)
    shape = path_data([remnant])
    extent = f"{number(bounds.width)} {number(bounds.height)}"
    return f'<g data-remnant="{extent}"><path class="remnant" d="{shape}"/>{words}</g>'


class _Labels:
    """Where numbers of so many figures stand upright on each part at each turn; every answer is kept."""

    def __init__(self, tallest: Mm) -> None:
        self._tallest = tallest
        self._rooms: dict[str, LabelRoom] = {}
        self._spots: dict[tuple[str, int, float | None], LabelSpot] = {}

    def spot(self, piece: SheetPiece, digits: int) -> LabelSpot:
        turn = piece.placement.turn % 180.0
        key = (piece.part.name, digits, turn if turn in (0.0, 90.0) else None)
        if key not in self._spots:
            if piece.part.name not in self._rooms:
                self._rooms[piece.part.name] = LabelRoom(piece.part)
            room, aspect = self._rooms[piece.part.name], digits * DIGIT_ASPECT
            upright_spot = room.in_circle(aspect, self._tallest)
            if key[2] is not None:
                best = room.widest(aspect, self._tallest, (turn,))
                upright_spot = best if best.height > upright_spot.height else upright_spot
            self._spots[key] = upright_spot
        return self._spots[key]


def _piece(piece: SheetPiece, shape: str, tint: int, labels: _Labels, *, is_crowded: bool) -> str:
    placement, figures = piece.placement, str(piece.number)
    spot = labels.spot(piece, len(figures))
    cos, sin = turn_vector(placement.turn)
    x = -spot.x if placement.mirrored else spot.x
    across, up = x * cos - spot.y * sin + placement.x, x * sin + spot.y * cos + placement.y
    # Fewer digits than shapes have: a number in the middle of its piece need not stand to the micrometre.
    words = text(round(across, 2), round(up, 2), math.floor(spot.height / CAPITAL * 100.0) / 100.0, figures)
    move = f"translate({point(placement.x, placement.y)})"
    if placement.turn % 360.0:
        move += f"rotate({number(-placement.turn)})"
    if placement.mirrored:
        move += "scale(-1 1)"
    name = escaped(piece.part.name)
    # Only the first piece is a stop of the tab key; a page moves on with the arrow keys, or through its list of parts.
    if piece.number == 1:
        about = f' tabindex="0"><title>1 {name}</title>'
    else:
        about = ">" if is_crowded else f' tabindex="-1"><title>{figures} {name}</title>'
    opening = f'<g class="piece k{tint}" data-piece="{figures}" data-part="{name}"{about}'
    return f'{opening}<use href="#{shape}" transform="{move}"/>{words}</g>\n'
