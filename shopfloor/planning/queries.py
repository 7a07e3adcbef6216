"""One function for each page of planning, with all that the page touches."""

import math
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

from django.db.models import Prefetch, Q, QuerySet
from django.utils import timezone

from shopfloor.planning.demand import Group, stock_by_group, waiting_groups
from shopfloor.planning.models import Layout, Nest, NestDemand, NestState, PlanningRule
from shopfloor.planning.queries_orders import orders_apart
from shopfloor.planning.rule import planning_rule, reason_to_nest
from shopfloor.stock.models import Kind, Machine, StockItem
from shopfloor.stock.rules import most_kinds_by_rule

HEAVY = ("result", "best_picture")


@dataclass(frozen=True)
class WaitingRow:
    """A group of waiting work with the stock it could be cut from and the machines that could cut it."""

    group: Group
    stock: list[StockItem]
    machines: list[Machine]
    rule: PlanningRule
    most_kinds: int | None = None

    @property
    def may_fill(self) -> bool:
        """Whether room that is left over may be filled with pieces that are not wanted yet."""
        return self.group.kind == Kind.SHEET and self.most_kinds is None

    @property
    def may_keep_together(self) -> bool:
        """Whether there are orders to be kept together."""
        return self.group.kind == Kind.SHEET and len(self.group.orders) > 1

    @cached_property
    def full_sheets(self) -> list[StockItem]:
        return [item for item in self.stock if not item.is_remnant]

    @cached_property
    def remnants(self) -> list[StockItem]:
        return [item for item in self.stock if item.is_remnant]

    @property
    def largest(self) -> StockItem | None:
        return max(self.stock, key=lambda item: float(item.length_mm) * float(item.width_mm or 1), default=None)

    @property
    def fills(self) -> float | None:
        """How many of the largest sheet or bar the net area or length of what waits comes to; None without stock."""
        if self.largest is None:
            return None
        return self.group.amount / (float(self.largest.length_mm) * float(self.largest.width_mm or 1))

    @property
    def days_left(self) -> int:
        return (self.group.due_on - timezone.localdate()).days

    @property
    def why_now(self) -> str:
        """Why it would be nested by itself, in words, or ""."""
        return reason_to_nest(self.group, self.stock, self.rule)


def waiting() -> list[WaitingRow]:
    """All groups that wait, earliest due first."""
    groups = waiting_groups()
    stock = stock_by_group(group.key for group in groups)
    machines = list(Machine.objects.filter(in_use=True).prefetch_related("materials"))
    rule, caps = planning_rule(), most_kinds_by_rule()
    rows = []
    for group in groups:
        fits = [m for m in machines if (m.cuts_sheet if group.kind == Kind.SHEET else m.cuts_tube)]
        fits = [m for m in fits if not m.materials.all() or group.material in m.materials.all()]
        of_thickness, of_others = (group.key.material_id, group.key.thickness_mm), (group.key.material_id, None)
        most_kinds = caps.get(of_thickness if of_thickness in caps else of_others)
        rows.append(WaitingRow(group, stock.get(group.key, []), fits, rule, most_kinds))
    return rows


def under_way() -> QuerySet[Nest]:
    """Nests that wait for a worker or are being laid out, oldest first."""
    return _light(Nest.objects.filter(state__in=(NestState.QUEUED, NestState.LAYING)).order_by("queued_at", "pk"))


def ready() -> QuerySet[Nest]:
    """Checked nests that wait to be released, earliest due first."""
    return _light(Nest.objects.filter(state=NestState.READY).order_by("due_on", "pk"))


def to_compare() -> QuerySet[Nest]:
    """Rivals that wait to be compared with their nest, oldest first."""
    return _light(Nest.objects.filter(state=NestState.PROPOSED).order_by("pk"))


def failed() -> QuerySet[Nest]:
    return _light(Nest.objects.filter(state=NestState.FAILED).order_by("-pk"))


def released() -> QuerySet[Nest]:
    return _light(Nest.objects.filter(state=NestState.RELEASED).order_by("due_on", "pk"))


def ended(most: int = 50) -> QuerySet[Nest]:
    return _light(Nest.objects.filter(state__in=(NestState.DONE, NestState.THROWN_AWAY)).order_by("-pk")[:most])


def nest_with_layouts(nest_id: int) -> Nest | None:
    """A nest with its layouts (without cut files), demand and events."""
    layouts = Layout.objects.select_related("stock__material", "stock__section").defer("cut_file", "flat_file")
    layouts = layouts.annotate(has_flat_file=Q(flat_file__isnull=False)).order_by("position")
    demands = NestDemand.objects.select_related("line__order__customer", "line__part")
    demands = demands.defer("line__part__shape", "line__part__picture").order_by("line__order__due_on", "line_id")
    nests = Nest.objects.select_related("material", "section", "machine", "asked_by", "rival_of").prefetch_related(
        Prefetch("layouts", layouts), Prefetch("demands", demands), "events__actor"
    )
    return nests.filter(pk=nest_id).first()


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


NEST_WORDS = {
    "ask": "Asked for",
    "save": "Laid out and checked",
    "propose": "Laid out and checked, to be compared",
    "give-up": "Came to nothing",
    "change-by-hand": "Changed by hand and checked",
    "choose": "Chosen",
    "give-way": "Thrown away",
    "drop": "Thrown away",
    "cancel": "Cancelled",
    "throw-away": "Thrown away",
    "release": "Released to the machine",
    "recall": "Taken back from the machine",
    "finish": "All sheets or bars are through",
    "unfinish": "In work again",
}


@dataclass(frozen=True)
class NestMoment:
    """One line of a nest's history: when, who, what, why."""

    at: datetime
    who: str
    what: str
    why: str


def history_of(nest: Nest) -> list[NestMoment]:
    """What happened to the nest, in the order of events, from what `nest_with_layouts` has fetched."""
    return [
        NestMoment(event.at, str(event.actor or "the server"), NEST_WORDS.get(event.verb, event.verb), event.why)
        for event in nest.events.all()
    ]


def parts_of_layout(nest: Nest, position: int) -> list[tuple[str, int, list[int]]]:
    """Each part on one sheet or bar: its name, how many, and the numbers of its pieces on the picture."""
    if nest.result is None:
        return []
    sheets = nest.result.get("sheets") or nest.result.get("bars") or []
    rows = sheets[position - 1].get("placements") or sheets[position - 1].get("pieces") or []
    numbers: dict[str, list[int]] = {}
    for number, row in enumerate(rows, 1):
        numbers.setdefault(row["part"], []).append(number)
    return [(name, len(found), found) for name, found in sorted(numbers.items())]


def _light(nests: QuerySet[Nest]) -> QuerySet[Nest]:
    return nests.select_related("material", "section", "machine", "asked_by").defer(*HEAVY)


@dataclass(frozen=True)
class Way:
    """How far a nest that is being laid out has come: seconds gone, of how many, and that as percent."""

    gone_s: float
    of_s: int
    percent: float
    ahead: int


def way_of(nest: Nest) -> Way:
    """`ahead` is how many nests wait before this one."""
    gone = (timezone.now() - nest.started_at).total_seconds() if nest.started_at and nest.state == "laying" else 0.0
    ahead = 0
    if nest.state == NestState.QUEUED:
        ahead = Nest.objects.filter(state=NestState.LAYING).count()
        ahead += Nest.objects.filter(state=NestState.QUEUED, queued_at__lt=nest.queued_at).count()
    return Way(gone, nest.budget_s, min(100.0, 100.0 * gone / nest.budget_s), ahead)
