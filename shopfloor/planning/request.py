"""Asks for a nest: takes open pieces of a group, so that no other nest can take them, and queues the laying out."""

from collections.abc import Mapping
from dataclasses import dataclass
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
from shopfloor.stock.rules import machines_for, rule_for

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
    fill: Mapping[int, int] | None = None,
    together: bool = False,
    seed: int = 0,
) -> Nest:
    """The queued nest of a group's open pieces, or the one that the same key asked for before.

    `only` maps line ids to counts, to nest a part of what waits; by default all of it, earliest due first, up to
    MOST_PER_NEST. `fill` maps line ids to counts that may be laid beside those in room left over on their sheets;
    what finds none stays open. `together` keeps the parts of each order on as few sheets as can be.

    Raises:
        Refused: nothing waits (`nothing-waits`), no stock (`no-stock`), or no machine (`no-machine`) for it.
        BadInput: a budget out of range, a machine that does not cut this, or a wish that the group cannot have.
    """
    require(by, "nest")
    request_key = as_key(key)
    if found := _asked_by(request_key):
        return found
    budget = planning_rule().budget_s if budget_s is None else budget_s
    if not 2 <= budget <= 600:
        raise BadInput("The time to think must be 2 to 600 seconds.", "budget_s")
    try:
        return _ask(group_key, by, request_key, machine, budget, Wish(only, fill or {}, together), seed)
    except (IntegrityError, Refused):
        # The same request twice at the same time: the one that lost finds what the other wrote.
        if found := _asked_by(request_key):
            return found
        raise


@dataclass(frozen=True)
class Wish:
    """What is asked of the group, as `ask_for_nest` says."""

    only: Mapping[int, int] | None
    fill: Mapping[int, int]
    together: bool

    def check(self, group: Group) -> None:
        """Raises BadInput where the group's stock or cutting rule has no place for it."""
        if group.kind != Kind.SHEET:
            if self.together:
                raise BadInput("Orders are kept together on sheets only; bars are laid out piece by piece.", "together")
            if self.fill:
                raise BadInput("Only sheets have room to fill; leave it out for bars.", "fill")
        elif self.fill and (most := rule_for(group.material, group.kind, group.key.thickness_mm).most_kinds):
            raise BadInput(
                f"The cutting rule lets at most {most} different parts lie on a sheet, so its room is not filled with "
                "others. Leave them out, or change the rule.",
                "fill",
            )


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
    wish: Wish,
    seed: int,
) -> Nest:
    with transaction.atomic():
        group = group_of(group_key)
        if group is None:
            raise Refused("Nothing waits in this group any more. Reload the page.", "nothing-waits")
        stock = free_stock(group_key)
        if not stock:
            raise Refused(f"There is no {group.title} in stock. Enter a sheet or bar under Stock first.", "no-stock")
        wish.check(group)
        chosen = _machine(group, stock, machine)
        counts, fills = _counts(group, wish)
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
            kits_together=wish.together,
            wanted_count=sum(counts.values()),
        )
        # What may fill room is held by the nest like the rest, so that no other nest takes it meanwhile.
        held = {pk: counts.get(pk, 0) + fills.get(pk, 0) for pk in lines if pk in counts or pk in fills}
        NestDemand.objects.bulk_create(
            NestDemand(nest=nest, line_id=pk, count=n, fill_count=fills.get(pk, 0)) for pk, n in held.items()
        )
        progress.report([Shift(pk, OPEN, "planned", n) for pk, n in held.items()], by=by, place=str(nest))
        NestEvent.objects.create(
            nest=nest, key=request_key, actor=by, verb="ask", to_state=NestState.QUEUED, why=_words(wish, fills)
        )
        send_soon(NEST_WORK, nest.pk)
    return nest


def _words(wish: Wish, fills: Mapping[int, int]) -> str:
    """What was wished, for the event: where nothing found room, that would be seen nowhere else."""
    words = ["each order kept together"] if wish.together else []
    if more := sum(fills.values()):
        words.append(f"{more} more may fill left-over room")
    return ", ".join(words)


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


def _counts(group: Group, wish: Wish) -> tuple[dict[int, int], dict[int, int]]:
    """How many of each line are wanted, and how many further ones may fill room."""
    counts: dict[int, int] = {}
    fills: dict[int, int] = {}
    left = MOST_PER_NEST
    for line in group.lines:
        wanted = line.open_count if wish.only is None else min(line.open_count, max(0, wish.only.get(line.pk, 0)))
        if taken := min(wanted, left):
            counts[line.pk] = taken
            left -= taken
    if not counts:
        others = (
            " Parts that may fill room are laid beside others only: choose at least one of these." if wish.fill else ""
        )
        raise Refused(f"None of the chosen pieces waits any more. Reload the page.{others}", "nothing-waits")
    for line in group.lines:
        rest = min(line.open_count - counts.get(line.pk, 0), max(0, wish.fill.get(line.pk, 0)))
        if taken := min(rest, left):
            fills[line.pk] = taken
            left -= taken
    return counts, fills
