"""Says which of two answers is better: more laid, then less spent on stock, then a shorter last sheet."""

import math
from dataclasses import dataclass

from nesting.layout.fits import Form, form_of
from nesting.model.nest import BarNest, Placement, SheetJob, SheetLayout, SheetNest
from nesting.units import Deg, Mm

SAME = 1e-6
"""Costs and spans closer than this (relative) are equal, so that float noise is never reported as progress."""


@dataclass(frozen=True)
class Score:
    """How good an answer is; compare with `is_better_than`. `rest` is what the last sheet or bar takes up."""

    laid: int
    cost: float
    rest: Mm

    def is_better_than(self, other: "Score | None") -> bool:
        if other is None or self.laid != other.laid:
            return other is None or self.laid > other.laid
        if not _is_same(self.cost, other.cost):
            return self.cost < other.cost
        return self.rest < other.rest and not _is_same(self.rest, other.rest)


def _is_same(a: float, b: float) -> bool:
    return math.isclose(a, b, rel_tol=SAME, abs_tol=SAME)


class Extents:
    """How far placements reach, from the exact bounds of each part at each turn, worked out once."""

    def __init__(self, job: SheetJob) -> None:
        self._parts = {demand.part.name: demand.part for demand in job.demands}
        self._forms: dict[tuple[str, Deg, bool], Form] = {}

    def form(self, placement: Placement) -> Form:
        key = (placement.part, placement.turn, placement.mirrored)
        if key not in self._forms:
            self._forms[key] = form_of(self._parts[placement.part], placement.turn, mirrored=placement.mirrored)
        return self._forms[key]

    def right(self, layout: SheetLayout) -> Mm:
        """The largest x that any part of the layout reaches."""
        forms = ((p, self.form(p)) for p in layout.placements)
        return max((p.x + form.left + form.width for p, form in forms), default=-math.inf)

    def top(self, layout: SheetLayout) -> Mm:
        """The largest y that any part of the layout reaches."""
        forms = ((p, self.form(p)) for p in layout.placements)
        return max((p.y + form.bottom + form.height for p, form in forms), default=-math.inf)


def score_sheets(nest: SheetNest, extents: Extents) -> Score:
    """The last sheet is the one with the least taken up along x, margins left out, as all others count as full."""
    stock = {sheet.name: sheet for sheet in nest.job.stock}
    cost = math.fsum(layout.copies * stock[layout.stock].price for layout in nest.layouts)
    margin = nest.job.rules.margin
    spans = (extents.right(lay) - stock[lay.stock].outline.bounds.left - margin for lay in nest.layouts)
    return Score(nest.placed_count, cost, min(spans, default=0.0))


def score_bars(nest: BarNest) -> Score:
    """The last bar is the one with the least taken up."""
    length = {demand.part.name: demand.part.length for demand in nest.job.demands}
    stock = {bar.name: bar for bar in nest.job.stock}
    cost = math.fsum(layout.copies * stock[layout.stock].price for layout in nest.layouts)
    spans = (max((p.start + length[p.part] for p in layout.pieces), default=0.0) for layout in nest.layouts)
    return Score(nest.placed_count, cost, min(spans, default=0.0))
