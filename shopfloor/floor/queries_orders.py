"""Where the pieces of an order are: what the floor knows for the office's order page."""

from collections import defaultdict
from dataclasses import dataclass, field
from itertools import pairwise

from shopfloor.floor.models import Workpiece, WorkpieceState
from shopfloor.floor.queries import STEPS_SHOWN, all_loads
from shopfloor.orders.models import Order, OrderLine
from shopfloor.planning.models import NestDemand, NestState

UNDER_WAY = (NestState.QUEUED, NestState.LAYING, NestState.READY)
"""States of a nest that holds pieces without being on the floor."""


@dataclass(frozen=True)
class PiecePlace:
    """Some pieces of a line in one state at one place: on a load, or on a nest that is not on the floor yet."""

    step: str
    count: int
    where: str
    load_id: int | None = None
    numbers: str = ""


@dataclass
class LinePlaces:
    """A line and where its pieces are; what is still to be nested is `line.open_count`."""

    line: OrderLine
    places: list[PiecePlace] = field(default_factory=list)


def pieces_of_order(order: Order) -> list[LinePlaces]:
    """Every line of the order with the places of its pieces, furthest come last."""
    lines = order.lines.select_related("part").defer("part__shape", "part__picture")
    found = {line.pk: LinePlaces(line) for line in lines}
    demands = NestDemand.objects.filter(line__in=found, nest__state__in=UNDER_WAY, count__gt=0)
    for demand in demands.select_related("nest").defer("nest__result", "nest__best_picture").order_by("nest"):
        step = "nested" if demand.nest.state == NestState.READY else "planned"
        where = f"{demand.nest}, {demand.nest.get_state_display()}"
        found[demand.line_id].places.append(PiecePlace(step, demand.count, where))
    numbers: dict[tuple[int, int, str], list[int]] = defaultdict(list)
    pieces = Workpiece.objects.filter(line__in=found).exclude(state=WorkpieceState.RECALLED).order_by("number")
    for line, load, state, number in pieces.values_list("line", "load", "state", "number"):
        numbers[line, load, state].append(number)
    loads = all_loads().in_bulk({load for _, load, _ in numbers})
    order_of = {state: place for place, state in enumerate(STEPS_SHOWN)}
    for line, load, state in sorted(numbers, key=lambda key: (key[0], order_of[WorkpieceState(key[2])], key[1])):
        each = numbers[line, load, state]
        where = f"{loads[load]} at {loads[load].machine}"
        found[line].places.append(PiecePlace(state, len(each), where, load, as_ranges(each)))
    return list(found.values())


def as_ranges(numbers: list[int]) -> str:
    """[1, 2, 3, 7] as "1–3, 7"; the numbers rise."""
    if not numbers:
        return ""
    ends = [numbers[0]]
    for before, after in pairwise(numbers):
        if after != before + 1:
            ends += [before, after]
    ends.append(numbers[-1])
    runs = zip(ends[::2], ends[1::2], strict=True)
    return ", ".join(str(first) if first == last else f"{first}–{last}" for first, last in runs)
