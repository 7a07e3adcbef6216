"""Turns a nest's demand and the free stock into a job for `nesting.route`, and knows the way back.

The same part of several orders is laid out as one, unless orders are kept together. Names in the job are for people
too, since they stand on labels and pictures: a part keeps its name, with its row number where two parts share one, or
its order where each order's are laid out apart; stock is named by size and number.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from itertools import chain, count
from typing import NamedTuple

from nesting.model.nest import BarJob, Demand, SheetJob
from nesting.model.nest import Nest as NestNoun
from nesting.model.part import SheetPart, TubePart, Turns
from nesting.model.stock import Bar, Sheet
from nesting.records.parts import contour_from_record
from shopfloor.orders.models import Grain, OrderLine
from shopfloor.planning.demand import GroupKey, free_stock
from shopfloor.planning.models import Nest, NestDemand
from shopfloor.planning.nest_state import stock_of
from shopfloor.stock.models import Kind, Machine, StockItem
from shopfloor.stock.rules import bar_rules, rule_for, sheet_rules

GRAIN_TURNS: dict[str, Turns | None] = {Grain.NONE: None, Grain.ALONG: (0.0, 180.0), Grain.ACROSS: (90.0, 270.0)}
GRAIN_MARK = {Grain.NONE: "", Grain.ALONG: "a", Grain.ACROSS: "x"}

REMNANT_DISCOUNT = 0.6
"""A remnant costs this share of what its area or length costs on a new sheet or bar: used first where it serves, but
not at any waste. Our own choice; remnants tie up room and lose their marks."""


class Sameness(NamedTuple):
    """What lines must have in common to be laid out as one: the part, how it lies to the grain, and, where each order's
    parts are kept together, the order (else 0).
    """

    part_id: int
    grain: str
    order_id: int

    @property
    def key(self) -> str:
        """A short form for pages that move pieces by hand."""
        return f"{self.part_id}{self.grain}" + (f"-{self.order_id}" if self.order_id else "")


def sameness(line: OrderLine, *, by_order: bool = False) -> Sameness:
    grain = "" if line.is_tube else GRAIN_MARK[Grain(line.grain)]
    return Sameness(line.part_id, grain, line.order_id if by_order else 0)


def part_names(lines: Iterable[OrderLine], *, by_order: bool = False) -> dict[int, str]:
    """The job's part name of each line (by id). Lines that are laid out as one share a name, others never do.

    The same lines always get the same names, in whatever order they come. `by_order` is the nest's `kits_together`.
    """
    names: dict[Sameness, str] = {}
    taken: set[str] = set()
    lines = sorted(lines, key=lambda each: each.pk)
    shared = _in_several_orders(lines) if by_order else set()
    for line in lines:
        same = sameness(line, by_order=by_order)
        if same in names:
            continue
        plain = line.part.name
        if same.part_id in shared:
            plain = f"{plain}, order {line.order.number}"
        # A file may be called like a name we would make up: "bracket (2)" is what copies are called.
        made_up = (f"{plain} ({same.part_id}{same.grain}{'.' * dots})" for dots in count())
        name = next(name for name in chain([plain], made_up) if name not in taken)
        names[same] = name
        taken.add(name)
    return {line.pk: names[sameness(line, by_order=by_order)] for line in lines}


def _in_several_orders(lines: Iterable[OrderLine]) -> set[int]:
    """Ids of the parts that more than one order wants."""
    orders: dict[int, set[int]] = {}
    for line in lines:
        orders.setdefault(line.part_id, set()).add(line.order_id)
    return {part_id for part_id, wanting in orders.items() if len(wanting) > 1}


def stock_name(item: StockItem) -> str:
    """Size and row number; `stock_id` reads the number back."""
    size = f"{item.length_mm:.0f}" if item.kind == Kind.TUBE else f"{item.length_mm:.0f} x {item.width_mm:.0f}"
    return f"{size}, no. {item.pk}"


def stock_id(name: str) -> int:
    return int(name.rpartition("no. ")[2])


def demands_of(nest: Nest) -> list[NestDemand]:
    """The nest's demand with all it touches, earliest due first."""
    demands = nest.demands.select_related("line__order", "line__part").defer("line__part__picture")
    return list(demands.order_by("line__order__due_on", "line_id"))


@dataclass
class Share:
    """Pieces of one name in the job: so many wanted, and so many further ones that may fill left-over room."""

    line: OrderLine
    due: date
    wanted: int = 0
    fill: int = 0
    kit: str = ""


def shares_of(nest: Nest, demands: Iterable[NestDemand]) -> dict[str, list[Share]]:
    """For each name in the job what is wanted of it by each due date, the earliest first."""
    demands = list(demands)
    names = part_names((demand.line for demand in demands), by_order=nest.kits_together)
    found: dict[str, dict[date, Share]] = {}
    for demand in demands:
        line, due = demand.line, demand.line.order.due_on
        share = found.setdefault(names[line.pk], {}).setdefault(due, Share(line, due))
        share.wanted += demand.wanted_count
        share.fill += demand.fill_count
        # What is not wanted yet need not lie beside the rest of its order.
        if nest.kits_together and demand.wanted_count:
            share.kit = line.order.number
    return {name: [by_due[due] for due in sorted(by_due)] for name, by_due in found.items()}


def job_of(nest: Nest, demands: Iterable[NestDemand]) -> SheetJob | BarJob:
    """The job; stock that the nest's machine cannot take is left out.

    What is laid out as one is due when the first of it is; `due_apart` tells dates apart where that matters.
    """
    shares = shares_of(nest, demands)
    rule = rule_for(nest.material, nest.kind, nest.thickness_mm)
    key = GroupKey(nest.kind, nest.material_id, nest.thickness_mm, nest.section_id)
    held = {} if nest.rival_of is None else stock_of(nest.rival_of)
    items = [(item, at_hand) for item, at_hand in _at_hand(key, held) if machine_takes(nest.machine, item)]
    if nest.kind == Kind.SHEET:
        rules = sheet_rules(rule, nest.machine, together=nest.kits_together)
        return SheetJob(_sheets(items), rules, tuple(_sheet_demands(shares)))
    return BarJob(_bars(items), bar_rules(rule, nest.machine), tuple(_bar_demands(shares)))


def _at_hand(key: GroupKey, held: Mapping[int, int]) -> list[tuple[StockItem, int | None]]:
    """Stock items with how many may be used: those free, and those that the nest which is to give way holds."""
    items = {item.pk: item for item in free_stock(key)}
    items |= {item.pk: item for item in StockItem.objects.filter(pk__in=held).select_related("material", "section")}
    return [(item, None if item.free is None else item.free + held.get(item.pk, 0)) for item in items.values()]


class Placed(NamedTuple):
    """How many pieces of a demand row were placed, and how many of these only fill left-over room."""

    count: int
    fill_count: int


def placed_of_lines(nest: Nest, demands: Iterable[NestDemand], answer: NestNoun) -> dict[int, Placed]:
    """What was placed of each demand row (by id): what is short of a part is taken from the latest due lines.

    The rows come earliest due first, as `demands_of` gives them. What is wanted gets its pieces before what may fill
    room, whatever is due when.
    """
    demands = list(demands)
    left: dict[str, int] = {}
    for layout in answer.layouts:
        rows = layout.placements if hasattr(layout, "placements") else layout.pieces
        for row in rows:
            left[row.part] = left.get(row.part, 0) + layout.copies
    names = part_names((demand.line for demand in demands), by_order=nest.kits_together)

    def taken(name: str, most: int) -> int:
        count = min(most, left.get(name, 0))
        left[name] = left.get(name, 0) - count
        return count

    wanted = {demand.pk: taken(names[demand.line_id], demand.wanted_count) for demand in demands}
    fill = {demand.pk: taken(names[demand.line_id], demand.fill_count) for demand in demands}
    return {demand.pk: Placed(wanted[demand.pk] + fill[demand.pk], fill[demand.pk]) for demand in demands}


def machine_takes(machine: Machine, item: StockItem) -> bool:
    """Whether the sheet lies on the machine's table, or the bar fits its length."""
    if item.kind == Kind.TUBE:
        return machine.longest_bar_mm is not None and item.length_mm <= machine.longest_bar_mm
    if machine.table_length_mm is None or machine.table_width_mm is None or item.width_mm is None:
        return False
    return item.length_mm <= machine.table_length_mm and item.width_mm <= machine.table_width_mm


def _sheets(items: list[tuple[StockItem, int | None]]) -> tuple[Sheet, ...]:
    stock = []
    for item, at_hand in items:
        name, length, width = stock_name(item), float(item.length_mm), float(item.width_mm or 0)
        sheet = Sheet.rectangle(name, length, width, at_hand)
        if item.outline:
            sheet = Sheet(name, contour_from_record(item.outline), at_hand, is_remnant=True)
        if item.is_remnant:
            sheet = replace(sheet, cost=REMNANT_DISCOUNT * sheet.outline.area)
        stock.append(sheet)
    return tuple(stock)


def _bars(items: list[tuple[StockItem, int | None]]) -> tuple[Bar, ...]:
    stock = []
    for item, at_hand in items:
        length = float(item.length_mm)
        cost = REMNANT_DISCOUNT * length if item.is_remnant else None
        stock.append(Bar(stock_name(item), length, at_hand, cost))
    return tuple(stock)


def _sheet_demands(shares: Mapping[str, list[Share]]) -> Iterator[Demand[SheetPart]]:
    for name, of_name in shares.items():
        line = of_name[0].line
        part = line.part.noun
        if isinstance(part, SheetPart):
            wanted, fill = sum(share.wanted for share in of_name), sum(share.fill for share in of_name)
            yield Demand(
                replace(part, name=name),
                wanted,
                GRAIN_TURNS[Grain(line.grain)],
                # Where only what may fill room is due early, that hurries nothing.
                min((share.due for share in of_name if share.wanted or not wanted), default=None),
                max(share.kit for share in of_name),
                wanted + fill if fill else None,
            )


def _bar_demands(shares: Mapping[str, list[Share]]) -> Iterator[Demand[TubePart]]:
    for name, of_name in shares.items():
        part = of_name[0].line.part.noun
        if isinstance(part, TubePart):
            yield Demand(replace(part, name=name), sum(share.wanted for share in of_name))
