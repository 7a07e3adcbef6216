"""Another nest of the same demand as a ready one, to compare the two and keep the better.

The other one, the *rival*, holds no pieces and no stock while it is laid out and compared: they stay with the ready
nest, so that nothing is promised twice. When the rival is chosen they go over to it, and the first nest is thrown away.
"""

from dataclasses import dataclass, replace

from django.db import IntegrityError, transaction

from nesting.model.nest import SheetNest
from nesting.records.nests import sheet_layout_to_record
from shopfloor.accounts.models import User
from shopfloor.base.errors import BadInput, Refused, WrongState
from shopfloor.base.leases import send_soon
from shopfloor.base.moves import as_key
from shopfloor.base.roles import require
from shopfloor.orders import progress
from shopfloor.orders.progress import OPEN, Shift
from shopfloor.planning import nest_state
from shopfloor.planning.job import demands_of, part_names, placed_of_lines
from shopfloor.planning.models import LIVE_RIVAL, Nest, NestDemand, NestEvent, NestState
from shopfloor.planning.nest_state import NEST_WORK, stock_of
from shopfloor.planning.rule import planning_rule
from shopfloor.stock import reserve


@dataclass(frozen=True)
class Held:
    """Pieces of one sheet that stay where they are: `numbers` count them from 1, as the sheet's picture does."""

    version: int
    position: int
    numbers: frozenset[int]


def ask_for_rival(
    nest: Nest, *, by: User, key: object = None, budget_s: int | None = None, held: Held | None = None
) -> Nest:
    """The queued rival of a ready nest, laid out from another seed; for a key sent before, the one it asked for.

    With `held`, the pieces it names stay where they are, and the rest of the nest is laid out around them.

    Raises:
        Refused: there is a rival already (`rival-there`).
        WrongState: the nest is not ready.
        BadInput: a budget out of range; or held pieces that are none, or all there are.
    """
    require(by, "nest")
    request_key = as_key(key)
    if found := _asked_by(request_key, nest):
        return found
    budget = planning_rule().budget_s if budget_s is None else budget_s
    if not 2 <= budget <= 600:
        raise BadInput("The time to think must be 2 to 600 seconds.", "budget_s")
    try:
        with transaction.atomic():
            # The row is held, so that it is not released or thrown away before its rival stands beside it.
            first = Nest.objects.select_for_update(of=("self",)).filter(pk=nest.pk, state=NestState.READY).first()
            if first is None:
                raise WrongState(f"{nest} is not ready any more, so there is nothing to compare with. Reload the page.")
            staying = None if held is None else _staying(first, held)
            why = f"beside {first}" + (f", {len(held.numbers)} pieces held in place" if held else "")
            rival = Nest.objects.create(
                kind=first.kind,
                material_id=first.material_id,
                thickness_mm=first.thickness_mm,
                section_id=first.section_id,
                machine_id=first.machine_id,
                due_on=first.due_on,
                asked_by=by,
                budget_s=budget,
                seed=_next_seed(first),
                kits_together=first.kits_together,
                wanted_count=first.placed_count - first.filled_count,
                rival_of=first,
                held=staying,
            )
            NestEvent.objects.create(
                nest=rival, key=request_key, actor=by, verb="ask", to_state=NestState.QUEUED, why=why
            )
            send_soon(NEST_WORK, rival.pk)
    except IntegrityError as fault:
        if found := _asked_by(request_key, nest):
            return found
        raise Refused(
            f"There is another nest beside {nest} already. Choose one of the two first.", "rival-there"
        ) from fault
    return rival


def _staying(nest: Nest, held: Held) -> dict[str, object]:
    """What `Nest.held` keeps."""
    if nest.version != held.version:
        raise WrongState(f"{nest} was changed by somebody else meanwhile. Reload the page and do it again.")
    noun = nest.noun
    if not isinstance(noun, SheetNest) or not 1 <= held.position <= len(noun.layouts):
        raise BadInput(f"{nest} has no sheet {held.position}.", "position")
    layout = noun.layouts[held.position - 1]
    if not held.numbers or not held.numbers <= set(range(1, len(layout.placements) + 1)):
        raise BadInput("Hold at least one piece of the sheet in place, and save what you moved first.", "held")
    staying = [p for number, p in enumerate(layout.placements, 1) if number in held.numbers]
    if len(staying) * layout.copies == noun.placed_count:
        raise BadInput("All pieces of the nest are held, so there is nothing to lay out again.", "held")
    return {"version": nest.version, "sheets": [sheet_layout_to_record(replace(layout, placements=tuple(staying)))]}


def _asked_by(key: object, nest: Nest) -> Nest | None:
    found = NestEvent.objects.filter(key=key).select_related("nest").first()
    if found is None:
        return None
    if found.verb != "ask" or found.nest.rival_of_id != nest.pk:
        raise BadInput("This request key was used for something else. Reload the page and try again.", "key")
    return found.nest


def _next_seed(nest: Nest) -> int:
    """One that neither the nest nor an earlier rival of it was laid out from."""
    return max([nest.seed, *nest.rivals.values_list("seed", flat=True)]) + 1


def live_rival(nest: Nest) -> Nest | None:
    """The rival that is laid out or compared, if any."""
    return nest.rivals.filter(state__in=LIVE_RIVAL).first()


def choose(rival: Nest, *, by: User, key: object = None) -> None:
    """The rival takes the place of its nest, with the pieces and the stock; the nest is thrown away.

    What the rival could not place is open again.

    Raises:
        WrongState: one of the two has moved on.
        Refused: the nest holds other pieces by now (`demand-changed`), or stock is gone (`stock-gone`).
    """
    require(by, "nest")
    rival = Nest.objects.select_related("rival_of").get(pk=rival.pk)
    nest = rival.rival_of
    if nest is None:
        raise WrongState(f"{rival} was not laid out beside another nest, so there is nothing to choose.")

    def hand_over(nest: Nest) -> None:
        demands = demands_of(nest)
        answer = rival.noun
        names = part_names((demand.line for demand in demands), by_order=nest.kits_together)
        held: dict[str, int] = {}
        for demand in demands:
            held[names[demand.line_id]] = held.get(names[demand.line_id], 0) + demand.count
        if {d.part.name: d.most for d in answer.job.demands if d.most} != {n: c for n, c in held.items() if c}:
            raise Refused(
                f"{nest} holds other pieces than when {rival} was laid out. Throw {rival} away and ask for another.",
                "demand-changed",
            )
        placed = placed_of_lines(nest, demands, answer)
        NestDemand.objects.bulk_create(
            NestDemand(nest=rival, line_id=d.line_id, **placed[d.pk]._asdict()) for d in demands
        )
        shifts = [Shift(d.line_id, "nested", OPEN, d.count - placed[d.pk].count) for d in demands]
        progress.report(shifts, by=by, place=str(rival))
        reserve.exchange(stock_of(nest), stock_of(rival))

    nest_state.give_way(nest, rival, by=by, key=key, work=hand_over)
