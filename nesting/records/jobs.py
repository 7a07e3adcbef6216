"""Records of stock, rules and jobs."""

from collections.abc import Mapping
from datetime import date
from functools import partial
from typing import Any

from nesting.errors import BadRecord
from nesting.model.nest import BarJob, BarRules, Demand, Job, PieceOrder, SheetJob, SheetRules, Sides
from nesting.model.part import QUARTER_TURNS, SheetPart, Turns
from nesting.model.stock import Bar, Sheet
from nesting.records.parts import (
    contour_from_record,
    part_to_record,
    path_to_record,
    sheet_part_from_record,
    tube_part_from_record,
)
from nesting.records.values import (
    Record,
    as_list,
    as_object,
    built,
    flag,
    number,
    only_known,
    optional_number,
    optional_whole_number,
    shown,
    text,
    whole_number,
)

KNOWN = ("kind", "stock", "rules", "parts")
NEST_KNOWN = (
    *("version", "sheets", "bars", "unplaced", "proven_optimal", "seed", "seconds", "engine", "cut_short", "bound"),
)
"""What stands in a nest beside its job; a nest may be laid anew as a job."""

SHEET_KNOWN = ("name", "width_mm", "height_mm", "outline", "count", "cost")
BAR_KNOWN = ("name", "length_mm", "count", "cost")
SHEET_RULES_KNOWN = ("gap_mm", "margin_mm", "turns_deg", "mirror", "sides_mm", "most_kinds", "together")
SIDES = ("left", "bottom", "right", "top")
SHEET_PART_KNOWN = ("name", "count", "turns_deg", "due", "kit", "fill_up_to", "outer", "holes", "marks")
TUBE_PART_KNOWN = (
    *("name", "count", "length_mm", "section", "hole_count", "cut_length_mm", "square_ends", "metal_volume_mm3"),
    *("ends", "cut_outs"),
)


def _turns(value: object, where: str) -> Turns:
    if value == "any":
        return "any"
    numbers = as_list(value, where)
    turns = tuple(number({"turn": turn}, "turn", f"{where}[{i}]") for i, turn in enumerate(numbers))
    if not turns:
        raise BadRecord(f'{where}: at least one turn, or "any", is needed.')
    return turns


def _turns_to_record(turns: Turns) -> object:
    return "any" if turns == "any" else list(turns)


def sheet_to_record(sheet: Sheet) -> Record:
    bounds = sheet.outline.bounds
    record: Record = {"name": sheet.name}
    if sheet.is_remnant:
        record["outline"] = path_to_record(sheet.outline)
    else:
        record |= {"width_mm": bounds.right, "height_mm": bounds.top}
    record["count"] = sheet.count
    if sheet.cost is not None:
        record["cost"] = sheet.cost
    return record


def sheet_from_record(value: object, where: str = "stock") -> Sheet:
    record = as_object(value, where)
    only_known(record, SHEET_KNOWN, where)
    name = text(record, "name", where)
    count, cost = optional_whole_number(record, "count", where), optional_number(record, "cost", where)
    if "outline" in record:
        outline = contour_from_record(record["outline"], f"{where}.outline")
        return built(where, lambda: Sheet(name, outline, count, cost, is_remnant=True))
    width, height = number(record, "width_mm", where), number(record, "height_mm", where)
    return built(where, lambda: Sheet.rectangle(name, width, height, count, cost))


def bar_to_record(bar: Bar) -> Record:
    record: Record = {"name": bar.name, "length_mm": bar.length, "count": bar.count}
    return record if bar.cost is None else record | {"cost": bar.cost}


def bar_from_record(value: object, where: str = "stock") -> Bar:
    record = as_object(value, where)
    only_known(record, BAR_KNOWN, where)
    count, cost = optional_whole_number(record, "count", where), optional_number(record, "cost", where)
    return built(where, lambda: Bar(text(record, "name", where), number(record, "length_mm", where), count, cost))


def _sheet_rules_to_record(rules: SheetRules) -> Record:
    record: Record = {
        "gap_mm": rules.gap,
        "margin_mm": rules.margin,
        "turns_deg": _turns_to_record(rules.turns),
        "mirror": rules.mirror,
    }
    if rules.sides:
        record["sides_mm"] = {side: getattr(rules.sides, side) for side in SIDES}
    if rules.most_kinds is not None:
        record["most_kinds"] = rules.most_kinds
    return record | {"together": True} if rules.together else record


def _sheet_rules_from_record(rules: Mapping[str, Any], where: str) -> SheetRules:
    only_known(rules, SHEET_RULES_KNOWN, where)
    sides = as_object(rules.get("sides_mm", {}), f"{where}.sides_mm")
    only_known(sides, SIDES, f"{where}.sides_mm")
    return built(
        where,
        lambda: SheetRules(
            number(rules, "gap_mm", where, 5.0),
            number(rules, "margin_mm", where, 10.0),
            _turns(rules.get("turns_deg", list(QUARTER_TURNS)), f"{where}.turns_deg"),
            flag(rules, "mirror", where),
            Sides(*(number(sides, side, f"{where}.sides_mm", 0.0) for side in SIDES)),
            optional_whole_number(rules, "most_kinds", where),
            flag(rules, "together", where),
        ),
    )


def _demand_to_record(demand: Demand[Any]) -> Record:
    record: Record = {"count": demand.count}
    if demand.turns is not None:
        record["turns_deg"] = _turns_to_record(demand.turns)
    if demand.due is not None:
        record["due"] = demand.due.isoformat()
    if demand.kit:
        record["kit"] = demand.kit
    return record if demand.fill_up_to is None else record | {"fill_up_to": demand.fill_up_to}


def _due(row: Mapping[str, Any], where: str) -> date | None:
    if row.get("due") is None:
        return None
    words = text(row, "due", where)
    try:
        return date.fromisoformat(words)
    except ValueError:
        raise BadRecord(f"{where}.due: a date such as 2026-12-01 is needed, not {shown(words)}.") from None


def _sheet_demand(row: Mapping[str, Any], where: str) -> Demand[SheetPart]:
    only_known(row, SHEET_PART_KNOWN, where)
    part, count = sheet_part_from_record(row, where), whole_number(row, "count", where)
    turns = _turns(row["turns_deg"], f"{where}.turns_deg") if "turns_deg" in row else None
    kit = text(row, "kit", where) if "kit" in row else ""
    due, fill_up_to = _due(row, where), optional_whole_number(row, "fill_up_to", where)
    return built(where, lambda: Demand(part, count, turns, due, kit, fill_up_to))


def job_to_record(job: Job) -> Record:
    """The job form, every contour inline."""
    if isinstance(job, SheetJob):
        return {
            "kind": "sheet",
            "stock": [sheet_to_record(sheet) for sheet in job.stock],
            "rules": _sheet_rules_to_record(job.rules),
            "parts": [part_to_record(demand.part) | _demand_to_record(demand) for demand in job.demands],
        }
    return {
        "kind": "bar",
        "stock": [bar_to_record(bar) for bar in job.stock],
        "rules": {
            "gap_mm": job.rules.gap,
            "dead_end_mm": job.rules.dead_end,
            "lead_end_mm": job.rules.lead_end,
            "turns_deg": _turns_to_record(job.rules.turns),
            "flip": job.rules.flip,
            "order": job.rules.order.value,
            "shared_cut_mm": job.rules.shared_cut,
        },
        "parts": [part_to_record(demand.part) | {"count": demand.count} for demand in job.demands],
    }


BAR_RULES_KNOWN = ("gap_mm", "dead_end_mm", "lead_end_mm", "turns_deg", "flip", "order", "shared_cut_mm")


def _bar_rules(rules: Mapping[str, Any], where: str) -> BarRules:
    only_known(rules, BAR_RULES_KNOWN, where)
    order = text(rules, "order", where, PieceOrder.LONGEST_LAST.value)
    if order not in set(PieceOrder):
        raise BadRecord(f"{where}.order: one of {', '.join(PieceOrder)} is needed, not {shown(order)}.")
    return built(
        where,
        lambda: BarRules(
            number(rules, "gap_mm", where, 5.0),
            number(rules, "dead_end_mm", where, 0.0),
            number(rules, "lead_end_mm", where, 0.0),
            _turns(rules.get("turns_deg", "any"), f"{where}.turns_deg"),
            flag(rules, "flip", where, default=True),
            PieceOrder(order),
            optional_number(rules, "shared_cut_mm", where),
        ),
    )


def job_from_record(value: object, where: str = "job") -> Job:
    """A job whose parts are all inline; `nesting.route` puts the parts of files in before.

    Raises:
        BadRecord: with the place in the record and what is needed there.
    """
    record = as_object(value, where)
    only_known([key for key in record if key not in NEST_KNOWN], KNOWN, where)
    kind = text(record, "kind", where)
    rules = as_object(record.get("rules", {}), f"{where}.rules")
    rows = [as_object(p, f"{where}.parts[{i}]") for i, p in enumerate(as_list(record.get("parts"), f"{where}.parts"))]
    stock = as_list(record.get("stock"), f"{where}.stock")
    if kind == "sheet":
        sheet_rules = _sheet_rules_from_record(rules, f"{where}.rules")
        sheets = tuple(sheet_from_record(s, f"{where}.stock[{i}]") for i, s in enumerate(stock))
        sheet_demands = [_sheet_demand(row, f"{where}.parts[{i}]") for i, row in enumerate(rows)]
        return built(where, lambda: SheetJob(sheets, sheet_rules, tuple(sheet_demands)))
    if kind == "bar":
        bar_rules = _bar_rules(rules, f"{where}.rules")
        bars = tuple(bar_from_record(s, f"{where}.stock[{i}]") for i, s in enumerate(stock))
        bar_demands = []
        for i, row in enumerate(rows):
            here = f"{where}.parts[{i}]"
            only_known(row, TUBE_PART_KNOWN, here)
            tube, count = tube_part_from_record(row, here), whole_number(row, "count", here)
            bar_demands.append(built(here, partial(Demand, tube, count)))
        return built(where, lambda: BarJob(bars, bar_rules, tuple(bar_demands)))
    raise BadRecord(f'{where}.kind: "sheet" or "bar" is needed, not {shown(kind)}.')
