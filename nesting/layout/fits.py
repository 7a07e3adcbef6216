"""Which turns a part may be laid at, how much room it takes at each, and whether it fits a kind of sheet at all.

A *form* is a part at one allowed turn, seen as its upright bounding rectangle.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import shapely
from shapely.geometry import Polygon

from nesting.geometry.contour import Contour
from nesting.geometry.placing import placed
from nesting.layout.free_rectangle import is_upright_rectangle
from nesting.layout.turned_bounds import turned_bounds
from nesting.model.part import QUARTER_TURNS, SheetPart, Turns
from nesting.model.stock import Sheet
from nesting.units import CHORD, LARGEST_COORDINATE, SAME_POINT, Deg, Mm

SCAN: Deg = 1.0
"""Step in which free turning is tried when a part is looked at as a rectangle."""

FARTHEST: Mm = 10.0 * LARGEST_COORDINATE
"""Beyond 10 km from the origin float geometry loses the micrometre once a part is turned."""

LARGER_THAN_EVERY_SHEET = "larger than every sheet"
NOT_IN_AN_ALLOWED_TURN = "does not fit in any turn that is allowed"
NO_STOCK = "no stock left"
NO_TIME = "the time ran out before it was laid"
NO_ROOM = "no room was found on the sheets at hand"
BAD_SHEETS = "the sheets it could go on have an outline that cannot be, correct the stock"
FAR_AWAY = "drawn too far from its origin, move the drawing there"
BAD_OUTLINE = "its contours enclose no proper piece, mend the drawing"


@dataclass(frozen=True)
class Form:
    """A part mirrored and turned as stated lies with its bounds' lower left corner at (`left`, `bottom`)."""

    turn: Deg
    mirrored: bool
    width: Mm
    height: Mm
    left: Mm
    bottom: Mm


def form_of(part: SheetPart, turn: Deg, *, mirrored: bool = False) -> Form:
    bounds = placed(part.outer, 0.0, 0.0, turn, mirrored=mirrored).bounds
    return Form(turn, mirrored, bounds.width, bounds.height, bounds.left, bounds.bottom)


def forms_of(part: SheetPart, turns: Turns, *, mirror: bool) -> list[Form]:
    """The part's forms at every allowed turn that differ in width or height, the first of each kept.

    With free turning: the quarter turns, those at which the part's rectangle is smallest, and a scan in steps of SCAN.
    """
    sides = (False, True) if mirror and turns != "any" else (False,)
    found: dict[tuple[float, float], Form] = {}
    tried = _free_turns(part.outer) if turns == "any" else turns
    rings = [placed(part.outer, 0.0, 0.0, mirrored=side) for side in sides]
    for turn, *each in zip(tried, *(turned_bounds(ring, tried) for ring in rings), strict=True):
        for side, b in zip(sides, each, strict=True):
            form = Form(turn, side, b.width, b.height, b.left, b.bottom)
            found.setdefault((round(form.width, 6), round(form.height, 6)), form)
    return list(found.values())


def _free_turns(outer: Contour) -> list[Deg]:
    hull = Polygon(outer.polygon(CHORD, "outwards")).convex_hull
    corners = shapely.get_coordinates(hull).tolist()
    flat = {round(-math.degrees(math.atan2(y2 - y1, x2 - x1)) % 90.0, 9) for (x1, y1), (x2, y2) in pairwise(corners)}
    turns = sorted(flat)
    sizes = [bounds.width * bounds.height for bounds in turned_bounds(outer, turns)]
    # A smallest enclosing rectangle has a side along an edge of the hull (Freeman and Shapira 1975, from memory).
    best = turns[sizes.index(min(sizes))] if turns else 0.0
    turns = [*QUARTER_TURNS] if best == 0.0 else [best, best + 90.0, *QUARTER_TURNS]
    return turns + [k * SCAN for k in range(1, round(180.0 / SCAN)) if k * SCAN not in turns]


def may_fit(form: Form, sheet: Sheet, margin: Mm, slack: Mm = SAME_POINT) -> bool:
    """Whether the form's rectangle fits the sheet's bounds less the margin. For an upright rectangular sheet that is
    the whole truth; for an odd outline it is only what must hold.
    """
    bounds = sheet.outline.bounds
    return form.width <= bounds.width - 2.0 * margin + slack and form.height <= bounds.height - 2.0 * margin + slack


def sheets_for(part: SheetPart, forms: list[Form], turns: Turns, sheets: tuple[Sheet, ...], margin: Mm) -> list[Sheet]:
    """The kinds of sheet that the part may fit, looking at sizes alone."""
    # Between two steps of the scan a free part may stand a little better than at either of them.
    b = part.bounds
    slack = math.hypot(b.width, b.height) * math.radians(SCAN / 2.0) if turns == "any" else SAME_POINT
    return [
        sheet
        for sheet in sheets
        if part.outer.area <= sheet.outline.area * (1.0 + 1e-9)
        and any(may_fit(form, sheet, margin, slack) for form in forms)
    ]


def is_proper_sheet(sheet: Sheet) -> bool:
    """Whether the outline crosses nothing and is of a size that can be."""
    b = sheet.outline.bounds
    if max(map(abs, (b.left, b.bottom, b.right, b.top))) > FARTHEST:
        return False
    return is_upright_rectangle(sheet.outline) or bool(Polygon(sheet.outline.polygon(CHORD)).is_valid)


def is_proper(part: SheetPart) -> bool:
    """Whether the contours enclose one piece of metal: none crosses itself or another, holes lie inside."""
    metal = Polygon(part.outer.polygon(CHORD), [hole.polygon(CHORD) for hole in part.holes])
    if metal.is_valid:
        return True
    # Chords of a close pair of arcs may cross where the arcs do not.
    fine = CHORD / 100.0
    return bool(Polygon(part.outer.polygon(fine), [hole.polygon(fine) for hole in part.holes]).is_valid)


def why_none_fits(part: SheetPart, sheets: tuple[Sheet, ...], margin: Mm) -> str:
    """The reason why no sheet takes the part in an allowed turn: its size, or only its turns."""
    rectangles = [sheet for sheet in sheets if is_upright_rectangle(sheet.outline)]
    if any(may_fit(form, sheet, margin) for form in forms_of(part, "any", mirror=False) for sheet in rectangles):
        return NOT_IN_AN_ALLOWED_TURN
    return LARGER_THAN_EVERY_SHEET
