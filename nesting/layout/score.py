"""Says which of two answers is better: more laid of what is due first, then more laid, then kits less scattered, then
less spent on stock, then a shorter last sheet.
"""

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from nesting.geometry.contour import Bounds
from nesting.layout.fits import Form, form_of
from nesting.model.nest import BarNest, Placement, SheetJob, SheetLayout, SheetNest
from nesting.units import Deg, Mm

SAME = 1e-6
"""Costs and spans closer than this (relative) are equal, so that float noise is never reported as progress."""


@dataclass(frozen=True)
class Score:
    """How good an answer is; compare with `is_better_than`. `rest` is what the last sheet or bar takes up.

    `by_due` is how many are laid of each due date, the earliest first; `scattered` on how many sheets kits lie beyond
    one each, where kits are to be kept together.
    """

    laid: int
    cost: float
    rest: Mm
    by_due: tuple[int, ...] = ()
    scattered: int = 0

    def is_better_than(self, other: "Score | None") -> bool:
        if other is None:
            return True
        mine, others = (self.by_due, self.laid, -self.scattered), (other.by_due, other.laid, -other.scattered)
        if mine != others:
            return mine > others
        if not _is_same(self.cost, other.cost):
            return self.cost < other.cost
        return self.rest < other.rest and not _is_same(self.rest, other.rest)


def _is_same(a: float, b: float) -> bool:
    return math.isclose(a, b, rel_tol=SAME, abs_tol=SAME)


def due_ranks(job: SheetJob) -> dict[str, int]:
    """Each part's place in the order of due dates, from 0 for the earliest; nothing where all are due alike."""
    dues = sorted({demand.due or date.max for demand in job.demands})
    place = {due: rank for rank, due in enumerate(dues)}
    return {d.part.name: place[d.due or date.max] for d in job.demands} if len(dues) > 1 else {}


EARLIER = 8.0
"""How many times more a part is worth to a solver than an equal one that is due next; more would drown in rounding."""


def due_worth(ranks: Mapping[str, int], name: str) -> float:
    """What being due early makes a part worth, 1 for what is due last."""
    last = max(ranks.values(), default=0)
    return float(EARLIER ** min(4, last - ranks.get(name, last)))


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
    """The last sheet is the one with the most left free along x, margins left out, as all others count as full."""
    stock = {sheet.name: sheet for sheet in nest.job.stock}
    cost = math.fsum(layout.copies * stock[layout.stock].price for layout in nest.layouts)
    margin = nest.job.rules.margin
    last = min(nest.layouts, key=lambda lay: _taken(stock[lay.stock].outline.bounds, extents.right(lay)), default=None)
    rest = 0.0 if last is None else extents.right(last) - stock[last.stock].outline.bounds.left - margin
    return Score(nest.placed_count, cost, rest, _by_due(nest), _scattered(nest) if nest.job.rules.together else 0)


def _taken(sheet: Bounds, right: Mm) -> float:
    """The less, the more of the sheet is free to the right."""
    return -(sheet.right - right) * sheet.height


def _by_due(nest: SheetNest) -> tuple[int, ...]:
    ranks = due_ranks(nest.job)
    if not ranks:
        return ()
    laid: Counter[int] = Counter()
    for layout in nest.layouts:
        for p in layout.placements:
            laid[ranks[p.part]] += layout.copies
    return tuple(laid[rank] for rank in range(max(ranks.values()) + 1))


def _scattered(nest: SheetNest) -> int:
    kits = {demand.part.name: demand.kit for demand in nest.job.demands if demand.kit}
    on = [(layout.copies, {kits[p.part] for p in layout.placements if p.part in kits}) for layout in nest.layouts]
    sheets: Counter[str] = Counter()
    for copies, there in on:
        for kit in there:
            sheets[kit] += copies
    return sum(count - 1 for count in sheets.values())


def score_bars(nest: BarNest) -> Score:
    """The last bar is the one with the least taken up."""
    length = {demand.part.name: demand.part.length for demand in nest.job.demands}
    stock = {bar.name: bar for bar in nest.job.stock}
    cost = math.fsum(layout.copies * stock[layout.stock].price for layout in nest.layouts)
    spans = (max((p.start + length[p.part] for p in layout.pieces), default=0.0) for layout in nest.layouts)
    return Score(nest.placed_count, cost, min(spans, default=0.0))
