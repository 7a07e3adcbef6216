"""The page on which a ready nest and its rival are compared."""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from shopfloor.planning.models import Layout, Nest
from shopfloor.planning.queries import HEAVY
from shopfloor.planning.queries_orders import orders_apart
from shopfloor.stock.models import Kind


@dataclass(frozen=True)
class Figures:
    """A nest in the numbers that two are compared by; the remnant is the largest one, length and width in mm."""

    nest: Nest
    layouts: list[Layout]

    @property
    def sheet_count(self) -> int:
        return sum(layout.copies for layout in self.layouts)

    @property
    def cut_length_mm(self) -> float:
        return sum(layout.copies * layout.cut_length_mm for layout in self.layouts)

    @property
    def pierce_count(self) -> int:
        return sum(layout.copies * layout.pierce_count for layout in self.layouts)

    @cached_property
    def remnant(self) -> dict[str, float | None] | None:
        found = [layout.remnant for layout in self.layouts if layout.remnant]
        return max(found, key=lambda left: left["length_mm"] * (left["width_mm"] or 1.0), default=None)

    @property
    def remnant_size(self) -> float:
        return self.remnant["length_mm"] * (self.remnant["width_mm"] or 1.0) if self.remnant else 0.0


@dataclass(frozen=True)
class Compared:
    """One row of a comparison: what both come to, and which is the better of the two ("nest", "rival" or "")."""

    what: str
    unit: str
    nest: Any
    rival: Any
    better: str

    @property
    def sides(self) -> list[tuple[str, Any]]:
        return [("nest", self.nest), ("rival", self.rival)]


@dataclass(frozen=True)
class Pair:
    """A ready nest and its rival."""

    nest: Nest
    rival: Nest
    of_nest: Figures
    of_rival: Figures

    @property
    def both(self) -> list[Figures]:
        return [self.of_nest, self.of_rival]

    @cached_property
    def rows(self) -> list[Compared]:
        a, b = self.of_nest, self.of_rival
        more, less = True, False
        rows = [
            ("Pieces placed", "count", self.nest.placed_count, self.rival.placed_count, more),
            ("Yield", "share", self.nest.yield_share, self.rival.yield_share, more),
            ("Bars" if self.nest.kind == Kind.TUBE else "Sheets", "count", a.sheet_count, b.sheet_count, less),
            ("Cut length", "metres", a.cut_length_mm, b.cut_length_mm, less),
            ("Pierces", "count", a.pierce_count, b.pierce_count, less),
        ]
        compared = [Compared(what, unit, one, two, _better(one, two, most)) for what, unit, one, two, most in rows]
        if self.nest.bound and self.rival.bound:
            shares = self.nest.bound["left_share"], self.rival.bound["left_share"]
            if None not in shares:
                compared.insert(2, Compared("At most left to win", "share", *shares, _better(*shares, less)))
        if self.nest.kits_together:
            one, two = orders_apart(self.nest), orders_apart(self.rival)
            compared.insert(-2, Compared("Orders on several sheets", "count", one, two, _better(one, two, less)))
        left = _better(a.remnant_size, b.remnant_size, more)
        compared.insert(-2, Compared("Largest remnant", "remnant", a.remnant, b.remnant, left))
        return compared

    @property
    def are_alike(self) -> bool:
        """Whether neither is better in any figure."""
        return not any(row.better for row in self.rows)


def _better(nest: float | None, rival: float | None, more: bool) -> str:
    """Which of two numbers is better where more or less is wanted; "" where they are as good as one another."""
    one, two = nest or 0.0, rival or 0.0
    if math.isclose(one, two, rel_tol=1e-6):
        return ""
    return "nest" if (one > two) == more else "rival"


def pair_to_compare(rival_id: int) -> Pair | None:
    """The rival and its nest, with layouts and pictures; None where there is no such rival."""
    rival = Nest.objects.filter(pk=rival_id, rival_of__isnull=False)
    rival = rival.select_related("material", "section", "machine", "rival_of__machine").defer(*HEAVY).first()
    if rival is None or rival.rival_of is None:
        return None
    layouts = Layout.objects.select_related("stock").defer("cut_file", "flat_file").order_by("position")
    rows: dict[int, list[Layout]] = {rival.pk: [], rival.rival_of.pk: []}
    for layout in layouts.filter(nest__in=rows):
        rows[layout.nest_id].append(layout)
    nest = rival.rival_of
    return Pair(nest, rival, Figures(nest, rows[nest.pk]), Figures(rival, rows[rival.pk]))
