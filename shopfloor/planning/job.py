"""Turns a nest's demand and the free stock into a job for `nesting.route`, and knows the way back.

The same part of several orders is laid out as one. Names in the job are for people too, since they stand on labels and
pictures: a part keeps its name, with its row number where two parts share one, and stock is named by size and number.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import chain, count

from nesting.model.nest import BarJob, BarRules, Demand, SheetJob, SheetRules
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


def part_names(lines: Iterable[OrderLine]) -> dict[int, str]:
    """The job's part name of each line (by id). Lines of one part with one grain share a name, others never do.

    The same lines always get the same names, in whatever order they come.
    """
    names: dict[tuple[int, str], str] = {}
    taken: set[str] = set()
    lines = sorted(lines, key=lambda each: each.pk)
    for line in lines:
        if sameness(line) in names:
            continue
        part_id, mark = sameness(line)
        plain = line.part.name
        # A file may be called like a name we would make up: "bracket (2)" is what copies are called.
        made_up = (f"{plain} ({part_id}{mark}{'.' * dots})" for dots in count())
        name = next(name for name in chain([plain], made_up) if name not in taken)
        names[part_id, mark] = name
        taken.add(name)
    return {line.pk: names[sameness(line)] for line in lines}


def sameness(line: OrderLine) -> tuple[int, str]:
    """What lines must have in common to be laid out as one: the part, and how it lies to the grain."""
    return line.part_id, "" if line.is_tube else GRAIN_MARK[Grain(line.grain)]


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


def job_of(nest: Nest, demands: Iterable[NestDemand]) -> SheetJob | BarJob:
    """The job; stock that the nest's machine cannot take is left out."""
    counts: dict[str, int] = defaultdict(int)
    lines: dict[str, OrderLine] = {}
    demands = list(demands)
    names = part_names(demand.line for demand in demands)
    for demand in demands:
        name = names[demand.line_id]
        counts[name] += demand.count
        lines[name] = demand.line
    rule = rule_for(nest.material, nest.kind, nest.thickness_mm)
    key = GroupKey(nest.kind, nest.material_id, nest.thickness_mm, nest.section_id)
    held = {} if nest.rival_of is None else stock_of(nest.rival_of)
    items = [(item, at_hand) for item, at_hand in _at_hand(key, held) if machine_takes(nest.machine, item)]
    if nest.kind == Kind.SHEET:
        return _sheet_job(items, sheet_rules(rule, nest.machine), lines, counts)
    return _bar_job(items, bar_rules(rule, nest.machine), lines, counts)


def _at_hand(key: GroupKey, held: Mapping[int, int]) -> list[tuple[StockItem, int | None]]:
    """Stock items with how many may be used: those free, and those that the nest which is to give way holds."""
    items = {item.pk: item for item in free_stock(key)}
    items |= {item.pk: item for item in StockItem.objects.filter(pk__in=held).select_related("material", "section")}
    return [(item, None if item.free is None else item.free + held.get(item.pk, 0)) for item in items.values()]


def placed_of_lines(demands: Iterable[NestDemand], answer: NestNoun) -> dict[int, int]:
    """How many of each demand row (by id) were placed: what is short of a part is taken from the latest due lines.

    The rows come earliest due first, as `demands_of` gives them.
    """
    demands = list(demands)
    left: dict[str, int] = {}
    for layout in answer.layouts:
        rows = layout.placements if hasattr(layout, "placements") else layout.pieces
        for row in rows:
            left[row.part] = left.get(row.part, 0) + layout.copies
    names = part_names(demand.line for demand in demands)
    placed = {}
    for demand in demands:
        name = names[demand.line_id]
        placed[demand.pk] = min(demand.count, left.get(name, 0))
        left[name] = left.get(name, 0) - placed[demand.pk]
    return placed


def machine_takes(machine: Machine, item: StockItem) -> bool:
    """Whether the sheet lies on the machine's table, or the bar fits its length."""
    if item.kind == Kind.TUBE:
        return machine.longest_bar_mm is not None and item.length_mm <= machine.longest_bar_mm
    if machine.table_length_mm is None or machine.table_width_mm is None or item.width_mm is None:
        return False
    return item.length_mm <= machine.table_length_mm and item.width_mm <= machine.table_width_mm


def _sheet_job(
    items: list[tuple[StockItem, int | None]], rules: SheetRules, lines: dict[str, OrderLine], counts: dict[str, int]
) -> SheetJob:
    stock = []
    for item, at_hand in items:
        name, length, width = stock_name(item), float(item.length_mm), float(item.width_mm or 0)
        sheet = Sheet.rectangle(name, length, width, at_hand)
        if item.outline:
            sheet = Sheet(name, contour_from_record(item.outline), at_hand, is_remnant=True)
        if item.is_remnant:
            sheet = replace(sheet, cost=REMNANT_DISCOUNT * sheet.outline.area)
        stock.append(sheet)
    demands = []
    for name, line in lines.items():
        part = line.part.noun
        if isinstance(part, SheetPart):
            demands.append(Demand(replace(part, name=name), counts[name], GRAIN_TURNS[Grain(line.grain)]))
    return SheetJob(tuple(stock), rules, tuple(demands))


def _bar_job(
    items: list[tuple[StockItem, int | None]], rules: BarRules, lines: dict[str, OrderLine], counts: dict[str, int]
) -> BarJob:
    stock = []
    for item, at_hand in items:
        length = float(item.length_mm)
        cost = REMNANT_DISCOUNT * length if item.is_remnant else None
        stock.append(Bar(stock_name(item), length, at_hand, cost))
    demands = []
    for name, line in lines.items():
        part = line.part.noun
        if isinstance(part, TubePart):
            demands.append(Demand(replace(part, name=name), counts[name]))
    return BarJob(tuple(stock), rules, tuple(demands))
