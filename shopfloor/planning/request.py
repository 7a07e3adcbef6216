"""Asks for a nest: takes open pieces of a group, so that no other nest can take them, and queues the laying out."""

from collections.abc import Mapping
from uuid import UUID

from django.db import IntegrityError, transaction

from shopfloor.accounts.models import User
from shopfloor.base.errors import BadInput, Refused
from shopfloor.base.leases import send_soon
from shopfloor.base.moves import as_key
from shopfloor.base.roles import require
from shopfloor.orders import progress
from shopfloor.orders.progress import OPEN, Shift
from shopfloor.planning.demand import Group, GroupKey, free_stock, group_of
from shopfloor.planning.job import machine_takes
from shopfloor.planning.models import Nest, NestDemand, NestEvent, NestState
from shopfloor.planning.nest_state import NEST_WORK
from shopfloor.planning.rule import planning_rule
from shopfloor.stock.models import Kind, Machine, StockItem
from shopfloor.stock.rules import machines_for

MOST_PER_NEST = 5_000
"""Pieces in one nest: what an engine lays out well within its time. The rest stays open for the next nest."""


def ask_for_nest(
    group_key: GroupKey,
    *,
    by: User | None,
    key: object = None,
    machine: Machine | None = None,
    budget_s: int | None = None,
    only: Mapping[int, int] | None = None,
    seed: int = 0,
) -> Nest:
    """The queued nest of a group's open pieces, or the one that the same key asked for before.

    `only` maps line ids to counts, to nest a part of what waits; by default all of it, earliest due first, up to
    MOST_PER_NEST.

    Raises:
        Refused: nothing waits (`nothing-waits`), no stock (`no-stock`), or no machine (`no-machine`) for it.
        BadInput: a budget out of range, or a machine that does not cut this.
    """
    require(by, "nest")
    request_key = as_key(key)
    if found := _asked_by(request_key):
        return found
    budget = planning_rule().budget_s if budget_s is None else budget_s
    if not 2 <= budget <= 600:
        raise BadInput("The time to think must be 2 to 600 seconds.", "budget_s")
    try:
        return _ask(group_key, by, request_key, machine, budget, only, seed)
    except (IntegrityError, Refused):
        # The same request twice at the same time: the one that lost finds what the other wrote.
        if found := _asked_by(request_key):
            return found
        raise


def _asked_by(key: UUID) -> Nest | None:
    found = NestEvent.objects.filter(key=key).select_related("nest").first()
    if found is None:
        return None
    if found.verb != "ask":
        raise BadInput("This request key was used for something else. Reload the page and try again.", "key")
    return found.nest


def _ask(
    group_key: GroupKey,
    by: User | None,
    request_key: UUID,
    machine: Machine | None,
    budget_s: int,
    only: Mapping[int, int] | None,
    seed: int,
) -> Nest:
    with transaction.atomic():
        group = group_of(group_key)
        if group is None:
            raise Refused("Nothing waits in this group any more. Reload the page.", "nothing-waits")
        stock = free_stock(group_key)
        if not stock:
            raise Refused(f"There is no {group.title} in stock. Enter a sheet or bar under Stock first.", "no-stock")
        chosen = _machine(group, stock, machine)
        counts = _counts(group, only)
        lines = {line.pk: line for line in group.lines}
        nest = Nest.objects.create(
            kind=group.kind,
            material=group.material,
            thickness_mm=group_key.thickness_mm,
            section=group.section,
            machine=chosen,
            due_on=min(lines[pk].order.due_on for pk in counts),
            asked_by=by,
            budget_s=budget_s,
            seed=seed,
            wanted_count=sum(counts.values()),
        )
        NestDemand.objects.bulk_create(NestDemand(nest=nest, line_id=pk, count=n) for pk, n in counts.items())
        progress.report([Shift(pk, OPEN, "planned", n) for pk, n in counts.items()], by=by, place=str(nest))
        NestEvent.objects.create(nest=nest, key=request_key, actor=by, verb="ask", to_state=NestState.QUEUED)
        send_soon(NEST_WORK, nest.pk)
    return nest


def _machine(group: Group, stock: list[StockItem], asked: Machine | None) -> Machine:
    """The machine asked for, else the first by name that takes any of the stock."""
    what = "sheet" if group.kind == Kind.SHEET else "bar"
    cuts = machines_for(group.kind, group.material)
    fits = [machine for machine in cuts if any(machine_takes(machine, item) for item in stock)]
    if asked is not None:
        if asked not in cuts:
            raise BadInput(f"{asked} does not cut {group.title}.", "machine")
        if asked not in fits:
            raise BadInput(f"{asked} takes no {what} of {group.title} in stock: all are too large for it.", "machine")
        return asked
    if not cuts:
        raise Refused(
            f"No machine in use cuts {group.kind} in {group.material}. Enter one under Machines.", "no-machine"
        )
    if not fits:
        raise Refused(
            f"Every {what} of {group.title} in stock is too large for every machine. Enter a smaller one under Stock.",
            "no-machine",
        )
    return fits[0]


def _counts(group: Group, only: Mapping[int, int] | None) -> dict[int, int]:
    counts: dict[int, int] = {}
    left = MOST_PER_NEST
    for line in group.lines:
        wanted = line.open_count if only is None else min(line.open_count, max(0, only.get(line.pk, 0)))
        if taken := min(wanted, left):
            counts[line.pk] = taken
            left -= taken
    if not counts:
        raise Refused("None of the chosen pieces waits any more. Reload the page.", "nothing-waits")
    return counts
