"""What a piece on a bar looks like from the front or from the top: where its two ends reach at each height.

A share of 0 is the lower edge of the picture, 1 the upper one: bottom and top of the bar seen from the front, front and
back seen from the top.
"""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

from nesting.export.pieces import BarPiece
from nesting.geometry.ring_walk import RingWalk
from nesting.model.laid_piece import fits_section, laid_kinds
from nesting.model.tube_cuts import EndCut, EndKind
from nesting.units import Mm

type Look = Literal["front", "top"]

HEIGHTS = 16
"""Steps over the height in which a slope is followed that is no straight line."""

STEPS = 90
"""Places round the section at which an end is looked at between its own vertices."""

LEANS = 0.02
"""Sine of a direction under which a mitre does not lean that way: a degree."""

STRAIGHT: Mm = 0.02
"""A slope this near a line is one."""


def looks_at(pieces: Sequence[BarPiece]) -> list[Look]:
    """The looks that show every mitre's slope; from the front where there is none."""
    directions = [
        math.radians(end.towards)
        for piece in pieces
        for end in laid_kinds(piece.part, piece.piece) or ()
        if end.kind is EndKind.MITRE
    ]
    up = any(abs(math.sin(direction)) > LEANS for direction in directions)
    sideways = any(abs(math.cos(direction)) > LEANS for direction in directions)
    looks: list[Look] = ["front"] if up or not sideways else []
    return [*looks, "top"] if sideways else looks


def silhouettes(piece: BarPiece, look: Look) -> tuple[list[tuple[Mm, float]], list[tuple[Mm, float]]]:
    """The two ends as lists of (x along the bar, share of the height) from below upwards."""
    straight = [[(piece.start, 0.0), (piece.start, 1.0)], [(piece.end, 0.0), (piece.end, 1.0)]]
    where = piece.piece
    # A nest that is still to be checked is drawn too.
    may = piece.part.ends is not None and fits_section(piece.part.section, flipped=where.flipped, turn=where.turn)
    if not may or piece.ends is None:
        return straight[0], straight[1]
    near, far = piece.ends
    walk = RingWalk(piece.part.section.outlines[0])
    return _edge(near, walk, look, -1.0) or straight[0], _edge(far, walk, look, 1.0) or straight[1]


def _edge(cut: EndCut, walk: RingWalk, look: Look, out: float) -> list[tuple[Mm, float]]:
    """Where the end reaches furthest out at each height; nothing for a square end."""
    if cut.kind is EndKind.SQUARE:
        return []
    places = _fine(cut, walk.girth)
    axis = 1 if look == "front" else 0
    points = [(walk.point_at(s)[axis], x) for x, s in places]
    low, high = min(across for across, _ in points), max(across for across, _ in points)
    edge = []
    for k in range(HEIGHTS + 1):
        at = low + (high - low) * k / HEIGHTS
        xs = [x for one, other in pairwise(points) for x in _crossing(one, other, at)]
        if xs:
            edge.append((max(xs) if out > 0 else min(xs), k / HEIGHTS))
    if len(edge) < 2:
        return []
    (first, _), (last, _) = edge[0], edge[-1]
    if all(abs(first + (last - first) * share - x) <= STRAIGHT for x, share in edge):
        return [edge[0], edge[-1]]
    return edge


def _fine(cut: EndCut, girth: Mm) -> list[tuple[Mm, Mm]]:
    """Places (x, s) along the end, none further from the next than a step."""
    places = cut.path.flattened(STRAIGHT)
    fine = []
    for (x, s), (next_x, next_s) in pairwise(places):
        count = max(1, math.ceil(STEPS * abs(next_s - s) / girth))
        fine += [(x + (next_x - x) * k / count, s + (next_s - s) * k / count) for k in range(count)]
    return [*fine, places[-1]]


def _crossing(one: tuple[Mm, Mm], other: tuple[Mm, Mm], at: Mm) -> list[Mm]:
    (low, x), (high, next_x) = sorted((one, other))
    if not low <= at <= high:
        return []
    return [x, next_x] if high == low else [x + (next_x - x) * (at - low) / (high - low)]
