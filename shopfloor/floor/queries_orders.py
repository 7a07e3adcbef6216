"""Where the pieces of an order are, and what was marked on them: what the floor knows for the office's order page."""

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise

from shopfloor.floor.models import FloorEvent, Workpiece, WorkpieceState
from shopfloor.floor.queries import STEPS_SHOWN, all_loads
from shopfloor.orders.models import Order, OrderLine
from shopfloor.planning.models import NestDemand, NestState

UNDER_WAY = (NestState.QUEUED, NestState.LAYING, NestState.READY)
"""States of a nest that holds pieces without being on the floor."""

VERB_WORDS = {
    "pull": "taken to the machine",
    "put-back": "put back into the queue",
    "recall": "recalled by the office",
    "mark-cut": "cut",
    "mark-failed": "cut failed",
    "break-out": "broken out",
    "inspect": "inspected",
}


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


@dataclass(frozen=True)
class OrderMoment:
    """One floor event as far as it touches an order: `counts` are (part, state, how many) of its pieces."""

    at: datetime
    who: str
    words: str
    where: str
    load_id: int
    why: str
    counts: list[tuple[str, str, int]]
    is_taken_back: bool


def history_of_order(order: Order, most: int = 200) -> list[OrderMoment]:
    """The latest first."""
    parts: dict[int, dict[int, str]] = defaultdict(dict)
    pieces = Workpiece.objects.filter(line__order=order).values_list("load", "number", "line__part__name")
    for load, number, part in pieces:
        parts[load][number] = part
    loads = all_loads().in_bulk(parts)
    moments = []
    events = FloorEvent.objects.filter(load__in=loads).select_related("actor", "undone_by")
    for event in events[:most]:
        ours = parts[event.load_id]
        counts = Counter((ours[number], str(to)) for number, _, to, *_ in event.pieces if number in ours)
        if event.pieces and not counts:
            continue
        verb = event.verb.removeprefix("undo-")
        words = VERB_WORDS.get(verb, verb.replace("-", " "))
        moments.append(
            OrderMoment(
                at=event.at,
                who=str(event.actor or "the server"),
                words=f"“{words}” taken back" if verb != event.verb else words,
                where=f"{loads[event.load_id]}",
                load_id=event.load_id,
                why=event.why,
                counts=[(part, state, count) for (part, state), count in sorted(counts.items())],
                is_taken_back=hasattr(event, "undone_by"),
            )
        )
    return moments


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
