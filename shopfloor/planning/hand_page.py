"""What the page for work by hand is given: one sheet with its outline, rules, parts and pieces, and what waits.

Outlines are flattened as the checker flattens them first, outer contours outwards and holes inwards. Where that shows a
part with arcs too near to another by no more than it may be larger than in truth (`off_mm`), the browser says nothing:
the checker measures such places finely, and has the last word when the sheet is saved.
"""

from dataclasses import replace
from typing import Any

from nesting.model.nest import Demand, SheetNest
from nesting.model.part import SheetPart
from nesting.units import CHECK_SLACK, CHORD, Point
from shopfloor.base.errors import BadInput
from shopfloor.orders.models import Grain, OrderLine
from shopfloor.planning.hand_change import piece_key, waiting_lines
from shopfloor.planning.job import GRAIN_TURNS, demands_of, part_names
from shopfloor.planning.models import Nest

TINTS = 4
"""Fills that tell kinds of part apart, as in the pictures of sheets."""

MOST_KINDS = 500
"""Kinds of part that may be added; the earliest due ones. More would make the page slow, and no list is read so far."""


def board_of(nest: Nest, position: int) -> dict[str, Any]:
    """The sheet at `position` from 1, as plain values.

    Raises:
        BadInput: the nest has no such sheet.
    """
    noun = nest.noun
    if not isinstance(noun, SheetNest) or not 1 <= position <= len(noun.layouts):
        raise BadInput(f"{nest} has no sheet {position}.", "sheet")
    layout = noun.layouts[position - 1]
    lines = [demand.line for demand in demands_of(nest)]
    names = part_names(lines, by_order=nest.kits_together)
    key_of_name = {names[line.pk]: piece_key(line, by_order=nest.kits_together) for line in lines}
    waiting: dict[str, int] = {}
    first_line: dict[str, OrderLine] = {}
    for line in waiting_lines(nest):
        key = piece_key(line, by_order=nest.kits_together)
        if key in waiting or len(waiting) < MOST_KINDS:
            waiting[key] = waiting.get(key, 0) + line.open_count
            first_line.setdefault(key, line)
    parts = {key_of_name[d.part.name]: _part(d, noun.job.turns_of(d)) for d in noun.job.demands}
    for key in waiting.keys() - parts.keys():
        line = first_line[key]
        shape = line.part.noun
        if isinstance(shape, SheetPart):
            name = f"{shape.name}, order {line.order.number}" if nest.kits_together else shape.name
            demand = Demand(replace(shape, name=name), 0, GRAIN_TURNS[Grain(line.grain)])
            parts[key] = _part(demand, noun.job.turns_of(demand))
    for tint, part in enumerate(parts.values()):
        part["tint"] = tint % TINTS + 1
    sides = noun.job.rules.sides
    sheet = next(sheet for sheet in noun.job.stock if sheet.name == layout.stock)
    return {
        "version": nest.version,
        "position": position,
        "copies": layout.copies,
        "sheet": _rounded(sheet.outline.polygon(CHORD, "inwards")),
        "gap_mm": noun.job.rules.gap,
        "margin_mm": noun.job.rules.margin,
        "sides_mm": [sides.left, sides.bottom, sides.right, sides.top],
        "most_kinds": noun.job.rules.most_kinds,
        "slack_mm": CHECK_SLACK,
        "may_mirror": noun.job.rules.mirror,
        "parts": parts,
        "waiting": waiting,
        "pieces": [
            {"piece": key_of_name[p.part], "x_mm": p.x, "y_mm": p.y, "turn_deg": p.turn, "mirrored": p.mirrored}
            for p in layout.placements
        ],
    }


def _part(demand: Demand[SheetPart], turns: object) -> dict[str, Any]:
    part = demand.part
    is_curved = any(bulge for ring in (part.outer, *part.holes) for _, _, bulge in ring.vertices)
    return {
        "off_mm": CHORD if is_curved else 0.0,
        "name": part.name,
        "turns_deg": turns if turns == "any" else list(turns),  # type: ignore[call-overload]
        "outer": _rounded(part.outer.polygon(CHORD, "outwards")),
        "holes": [_rounded(hole.polygon(CHORD, "inwards")) for hole in part.holes],
    }


def _rounded(points: list[Point]) -> list[list[float]]:
    """To a tenth of a micrometre, to keep the page small."""
    return [[round(x, 4), round(y, 4)] for x, y in points]
