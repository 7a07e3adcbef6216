"""One function for each page of planning, with all that the page touches."""

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from django.db.models import Prefetch, Q, QuerySet
from django.utils import timezone

from shopfloor.planning.demand import Group, stock_by_group, waiting_groups
from shopfloor.planning.models import Layout, Nest, NestDemand, NestState, PlanningRule
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
