"""What the floor's pages show: the board of a machine, one load with its pieces by order line, and the lists of loads.

Pictures and cut files are large, so lists leave them in the database.
"""

import hashlib
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Count, Q, QuerySet

from shopfloor.base.errors import BadInput
from shopfloor.base.moves import as_key
from shopfloor.floor.models import ENDED, FloorEvent, Load, LoadState, ScrapReason, Workpiece, WorkpieceState
from shopfloor.orders.models import OrderLine
from shopfloor.stock.models import Machine

S = WorkpieceState
FILES = ("layout__cut_file", "layout__flat_file", "layout__nest__result", "layout__nest__best_picture")
HEAVY = ("layout__picture", *FILES)
QUEUE_SHOWN = 40
STEPS_SHOWN = (S.NESTED, S.CUT, S.BROKEN_OUT, S.REWORK, S.GOOD, S.SCRAP, S.LOST)
"""States in the order of the work."""


@dataclass(frozen=True)
class OrderShare:
    """How many of a load's pieces are for one order."""

    number: str
    customer: str
    due_on: date
    count: int


@dataclass
class LoadRow:
    """A load in a list, with the orders it is for, earliest due first, and how many pieces stand where."""

    load: Load
    orders: list[OrderShare] = field(default_factory=list)
    states: Counter[str] = field(default_factory=Counter)

    @property
    def piece_count(self) -> int:
        return sum(self.states.values())

    @property
    def to_break_out(self) -> int:
        return self.states[S.CUT]

    @property
    def to_inspect(self) -> int:
        return self.states[S.BROKEN_OUT]

    @property
    def counts(self) -> list[tuple[str, int]]:
        """(state, count) of the states that occur, in the order of the work."""
        return [(state, self.states[state]) for state in STEPS_SHOWN if self.states[state]]


@dataclass
class LineOnLoad:
    """The pieces of one order line on one load: their numbers by state."""

    line: OrderLine
    numbers: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))

    def of(self, *states: str) -> list[int]:
        return sorted(number for state in states for number in self.numbers.get(state, ()))

    @property
    def all(self) -> list[int]:
        return self.of(*self.numbers)

    @property
    def in_sheet(self) -> list[int]:
        """Pieces that can be broken out, or will be once the load is cut."""
        return self.of(S.CUT, S.NESTED)

    @property
    def to_inspect(self) -> list[int]:
        return self.of(S.BROKEN_OUT)

    @property
    def counts(self) -> list[tuple[str, int]]:
        return [(state, len(self.numbers[state])) for state in STEPS_SHOWN if self.numbers.get(state)]


@dataclass(frozen=True)
class MachineBoard:
    """What a machine's page answers "what do I do next?" from."""

    in_hand: list[LoadRow]
    queue: list[LoadRow]
    queue_count: int
    loads: Counter[str]
    pieces: Counter[str]

    @property
    def now(self) -> LoadRow | None:
        """The load in hand, else the one next in turn."""
        return next(iter(self.in_hand or self.queue), None)

    @property
    def later(self) -> list[LoadRow]:
        """The queue after `now`."""
        return self.queue if self.in_hand else self.queue[1:]

    @property
    def not_shown(self) -> int:
        return self.queue_count - len(self.queue)

    @property
    def version(self) -> str:
        """Changes with whatever the page shows, so that a tablet is drawn anew only when there is something new."""
        shown = [(row.load.pk, row.load.pulled_by_id, row.load.due_on) for row in self.in_hand + self.queue]
        facts = (len(self.in_hand), shown, self.queue_count, sorted(self.pieces.items()))
        return hashlib.blake2s(repr(facts).encode(), digest_size=6).hexdigest()


def numbers_by_state(lines: Iterable[LineOnLoad]) -> dict[str, str]:
    """The pieces of a load by state, as "1 2 7": what the picture is drawn by."""
    found: dict[str, list[int]] = defaultdict(list)
    for line in lines:
        for state, numbers in line.numbers.items():
            found[state] += numbers
    return {state: " ".join(map(str, sorted(numbers))) for state, numbers in found.items()}


def machines() -> QuerySet[Machine]:
    """Machines in use, with how many loads wait at each."""
    waiting = Count("loads", filter=Q(loads__state=LoadState.WAITING))
    in_hand = Count("loads", filter=Q(loads__state=LoadState.AT_MACHINE))
    return Machine.objects.filter(in_use=True).annotate(waiting_count=waiting, in_hand_count=in_hand).order_by("name")


def all_loads() -> QuerySet[Load]:
    """Loads with all that their heading and stock facts touch."""
    return Load.objects.select_related(
        "layout__nest__material",
        "layout__nest__section",
        "stock__material",
        "stock__section",
        "machine",
        "pulled_by",
        "remnant",
    ).defer(*HEAVY)


def machine_board(machine: Machine) -> MachineBoard:
    here = all_loads().filter(machine=machine)
    waiting = here.filter(state=LoadState.WAITING)
    in_hand = list(here.filter(state=LoadState.AT_MACHINE).order_by("pulled_at"))
    queue = list(waiting[:QUEUE_SHOWN])
    rows = {row.load.pk: row for row in _rows(in_hand + queue)}
    loads, pieces = _under_way(machine)
    return MachineBoard(
        [rows[load.pk] for load in in_hand], [rows[load.pk] for load in queue], waiting.count(), loads, pieces
    )


def _under_way(machine: Machine) -> tuple[Counter[str], Counter[str]]:
    """How many loads and pieces of the machine are to be broken out, inspected and judged again, by piece state."""
    states = (S.CUT, S.BROKEN_OUT, S.REWORK)
    found = Workpiece.objects.filter(load__machine=machine, state__in=states).order_by().values("state")
    loads: Counter[str] = Counter()
    pieces: Counter[str] = Counter()
    for row in found.annotate(loads=Count("load", distinct=True), pieces=Count("pk")):
        loads[row["state"]], pieces[row["state"]] = row["loads"], row["pieces"]
    return loads, pieces


def loads_with(machine: Machine, state: str) -> list[LoadRow]:
    """Loads of the machine that have pieces in the state, earliest due first."""
    here = all_loads().filter(machine=machine, pk__in=Workpiece.objects.filter(state=state).values("load"))
    return _rows(here.exclude(state=LoadState.RECALLED))


def lately_ended(machine: Machine, most: int = 30) -> list[LoadRow]:
    """The machine's loads that came to an end, the latest first, for a mark that must be taken back."""
    ended = (state for state in ENDED if state != LoadState.RECALLED)
    return _rows(all_loads().filter(machine=machine, state__in=ended).order_by("-pulled_at", "-pk")[:most])


def lines_on(load: Load) -> list[LineOnLoad]:
    """The load's pieces by order line, in the order in which the lines first come on the picture."""
    pieces = list(load.workpieces.order_by("number").values_list("number", "state", "line_id"))
    lines = (
        OrderLine.objects.filter(pk__in={line for *_, line in pieces})
        .select_related("part", "order__customer")
        .defer("part__shape", "part__picture")
        .in_bulk()
    )
    found: dict[int, LineOnLoad] = {}
    for number, state, line in pieces:
        found.setdefault(line, LineOnLoad(lines[line])).numbers[state].append(number)
    return list(found.values())


@dataclass(frozen=True)
class ReworkPiece:
    """A piece that was sent to rework and waits to be judged again."""

    load: Load
    number: int
    line: OrderLine
    reason: str

    @property
    def reason_words(self) -> str:
        return str(ScrapReason(self.reason).label) if self.reason else ""


def rework_pieces(machine: Machine) -> list[ReworkPiece]:
    pieces = list(
        Workpiece.objects.filter(load__machine=machine, state=S.REWORK)
        .select_related("line__part", "line__order__customer")
        .defer("line__part__shape", "line__part__picture")
        .order_by("line__order__due_on", "load", "number")
    )
    loads = all_loads().in_bulk({piece.load_id for piece in pieces})
    return [ReworkPiece(loads[piece.load_id], piece.number, piece.line, piece.reason) for piece in pieces]


def is_done(load: Load, key: str | None) -> bool:
    """Whether this request marked the load already, so that what it says need not be read again."""
    try:
        return bool(key) and FloorEvent.objects.filter(load=load, key=as_key(key)).exists()
    except BadInput:  # the verb says what is wrong with the key
        return False


def label_groups(load: Load) -> list[tuple[LineOnLoad, int]]:
    """Lines with pieces worth a label: good, or broken out and not judged yet; and how many."""
    found = ((line, len(line.of(S.GOOD, S.BROKEN_OUT))) for line in lines_on(load))
    return [(line, count) for line, count in found if count]


def _rows(loads: Iterable[Load]) -> list[LoadRow]:
    rows = {load.pk: LoadRow(load) for load in loads}
    counted = (
        Workpiece.objects.filter(load__in=rows)
        .order_by("line__order__due_on", "line__order", "state")
        .values_list("load", "line__order", "line__order__customer__name", "line__order__due_on", "state")
        .annotate(Count("pk"))
    )
    shares: dict[int, dict[int, OrderShare]] = defaultdict(dict)
    for load, order, customer, due_on, state, count in counted:
        rows[load].states[state] += count
        share = shares[load].get(order)
        total = count + (share.count if share else 0)
        shares[load][order] = OrderShare(f"{order:04d}", customer, due_on, total)
    for load, orders in shares.items():
        rows[load].orders = list(orders.values())
    return list(rows.values())
