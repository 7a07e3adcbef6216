"""What waits for a person, and for whom: everything in the shop that will not move on by itself, oldest first."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Q
from django.urls import reverse
from django.utils import timezone

from shopfloor.base.roles import INSPECTOR, MANAGER, OFFICE, OPERATOR
from shopfloor.floor.models import Load, LoadState, Workpiece, WorkpieceState
from shopfloor.orders.models import OrderFile, OrderState
from shopfloor.parts.models import DrawingState
from shopfloor.planning import queries as planning

AT_MACHINE_LONG = timedelta(hours=2)
"""A load that lies at the machine longer than this was probably forgotten; common practice, no source."""


@dataclass(frozen=True)
class Stuck:
    """One thing that waits: for which role, what, since when (None where that is not known), and where to act."""

    who: str
    what: str
    since: datetime | None
    url: str


def _pieces(count: int, one: str, many: str) -> str:
    return f"1 piece {one}" if count == 1 else f"{count} pieces {many}"


def all_stuck() -> list[Stuck]:
    """Everything that waits for a person, those that have waited longest first."""
    found = [*_drawings(), *_waiting_groups(), *_nests(), *_loads(), *_rework()]
    never = timezone.now()
    return sorted(found, key=lambda row: row.since or never)


def _drawings() -> list[Stuck]:
    states = (DrawingState.REFUSED, DrawingState.FAILED)
    files = OrderFile.objects.filter(order__state=OrderState.DRAFT, drawing__state__in=states)
    rows = []
    for file in files.select_related("drawing", "order__customer"):
        fault = "waits for an answer" if file.drawing.waits_for_answer else "cannot be used as it is"
        what = f"{file.drawing.name} for {file.order.customer} ({file.order}) {fault}."
        rows.append(Stuck(OFFICE, what, file.added_at, reverse("orders:order-enter", args=(file.order_id,))))
    return rows


def _waiting_groups() -> list[Stuck]:
    rows = []
    for row in planning.waiting():
        url = reverse("planning:waiting-work")
        title, count = row.group.title, row.group.piece_count
        if not row.stock:
            what = f"{title}: {_pieces(count, 'waits', 'wait')}, and there is nothing of it in stock."
            rows.append(Stuck(OFFICE, what, None, reverse("stock:stock-list")))
        elif not row.machines:
            what = f"{title}: {_pieces(count, 'waits', 'wait')}, and no machine in use cuts it."
            rows.append(Stuck(MANAGER, what, None, reverse("stock:machine-list")))
        elif row.days_left <= row.rule.days_ahead and not row.rule.by_itself:
            what = f"{title}: {_pieces(count, 'is', 'are')} not nested, {row.why_now}."
            rows.append(Stuck(OFFICE, what, None, url))
    return rows


def _nests() -> list[Stuck]:
    rows = []
    for nest in planning.failed():
        url = reverse("planning:nest-show", args=(nest.pk,))
        rows.append(Stuck(OFFICE, f"{nest} ({nest.group}) failed: {nest.failure}", nest.finished_at, url))
    for nest in planning.ready():
        url = reverse("planning:nest-show", args=(nest.pk,))
        rows.append(Stuck(OFFICE, f"{nest} ({nest.group}) is ready and not released.", nest.finished_at, url))
    return rows


def _loads() -> list[Stuck]:
    rows = []
    waiting = Q(workpieces__state=WorkpieceState.BROKEN_OUT)
    loads = Load.objects.select_related("layout__nest", "machine", "pulled_by").annotate(
        in_skeleton=Count("workpieces", filter=Q(workpieces__state=WorkpieceState.CUT)),
        to_inspect=Count("workpieces", filter=waiting),
    )
    for load in loads.filter(state__in=(LoadState.AT_MACHINE, LoadState.CUT, LoadState.BROKEN_OUT)):
        url = reverse("floor:load-page", args=(load.pk,))
        if load.state == LoadState.AT_MACHINE and load.pulled_at and timezone.now() - load.pulled_at > AT_MACHINE_LONG:
            what = f"{load} lies at {load.machine}, pulled by {load.pulled_by}, and is not marked cut."
            rows.append(Stuck(OPERATOR, what, load.pulled_at, url))
        if load.in_skeleton:
            rows.append(
                Stuck(OPERATOR, f"{load}: {_pieces(load.in_skeleton, 'is', 'are')} to be broken out.", load.cut_at, url)
            )
        if load.to_inspect:
            rows.append(
                Stuck(INSPECTOR, f"{load}: {_pieces(load.to_inspect, 'is', 'are')} to be inspected.", load.cut_at, url)
            )
    return rows


def _rework() -> list[Stuck]:
    counts = (
        Workpiece.objects.filter(state=WorkpieceState.REWORK)
        .values("load", "line__part__name", "line__order", "load__cut_at")
        .annotate(count=Count("pk"))
        .order_by("load__cut_at")
    )
    return [
        Stuck(
            INSPECTOR,
            f"{row['count']} × {row['line__part__name']} (Order {row['line__order']:04d}) in rework.",
            row["load__cut_at"],
            reverse("floor:load-page", args=(row["load"],)),
        )
        for row in counts
    ]
