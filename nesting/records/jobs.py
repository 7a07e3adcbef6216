"""Records of stock, rules and jobs."""

from functools import partial

from nesting.errors import BadRecord
from nesting.model.nest import BarJob, BarRules, Demand, Job, SheetJob, SheetRules
from nesting.model.part import QUARTER_TURNS, Turns
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
NEST_KNOWN = ("version", "sheets", "bars", "unplaced", "proven_optimal", "seed", "seconds", "engine", "cut_short")
"""What stands in a nest beside its job; a nest may be laid anew as a job."""

SHEET_KNOWN = ("name", "width_mm", "height_mm", "outline", "count", "cost")
BAR_KNOWN = ("name", "length_mm", "count", "cost")
SHEET_PART_KNOWN = ("name", "count", "turns_deg", "outer", "holes", "marks")
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


def job_to_record(job: Job) -> Record:
    """The job form, every contour inline."""
    if isinstance(job, SheetJob):
        rules = job.rules
        demands = []
        for demand in job.demands:
            row = part_to_record(demand.part) | {"count": demand.count}
            demands.append(row if demand.turns is None else row | {"turns_deg": _turns_to_record(demand.turns)})
        return {
            "kind": "sheet",
            "stock": [sheet_to_record(sheet) for sheet in job.stock],
            "rules": {
                "gap_mm": rules.gap,
                "margin_mm": rules.margin,
                "turns_deg": _turns_to_record(rules.turns),
                "mirror": rules.mirror,
            },
            "parts": demands,
        }
    return {
        "kind": "bar",
        "stock": [bar_to_record(bar) for bar in job.stock],
        "rules": {
            "gap_mm": job.rules.gap,
            "dead_end_mm": job.rules.dead_end,
            "lead_end_mm": job.rules.lead_end,
        },
        "parts": [part_to_record(demand.part) | {"count": demand.count} for demand in job.demands],
    }


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
        only_known(rules, ("gap_mm", "margin_mm", "turns_deg", "mirror"), f"{where}.rules")
        sheet_rules = built(
            f"{where}.rules",
            lambda: SheetRules(
                number(rules, "gap_mm", f"{where}.rules", 5.0),
                number(rules, "margin_mm", f"{where}.rules", 10.0),
                _turns(rules.get("turns_deg", list(QUARTER_TURNS)), f"{where}.rules.turns_deg"),
                flag(rules, "mirror", f"{where}.rules"),
            ),
        )
        sheets = tuple(sheet_from_record(s, f"{where}.stock[{i}]") for i, s in enumerate(stock))
        sheet_demands = []
        for i, row in enumerate(rows):
            here = f"{where}.parts[{i}]"
            only_known(row, SHEET_PART_KNOWN, here)
            part, count = sheet_part_from_record(row, here), whole_number(row, "count", here)
            turns = _turns(row["turns_deg"], f"{here}.turns_deg") if "turns_deg" in row else None
            sheet_demands.append(built(here, partial(Demand, part, count, turns)))
        return built(where, lambda: SheetJob(sheets, sheet_rules, tuple(sheet_demands)))
    if kind == "bar":
        only_known(rules, ("gap_mm", "dead_end_mm", "lead_end_mm"), f"{where}.rules")
        bar_rules = built(
            f"{where}.rules",
            lambda: BarRules(
                number(rules, "gap_mm", f"{where}.rules", 5.0),
                number(rules, "dead_end_mm", f"{where}.rules", 0.0),
                number(rules, "lead_end_mm", f"{where}.rules", 0.0),
            ),
        )
        bars = tuple(bar_from_record(s, f"{where}.stock[{i}]") for i, s in enumerate(stock))
        bar_demands = []
        for i, row in enumerate(rows):
            here = f"{where}.parts[{i}]"
            only_known(row, TUBE_PART_KNOWN, here)
            tube, count = tube_part_from_record(row, here), whole_number(row, "count", here)
            bar_demands.append(built(here, partial(Demand, tube, count)))
        return built(where, lambda: BarJob(bars, bar_rules, tuple(bar_demands)))
    raise BadRecord(f'{where}.kind: "sheet" or "bar" is needed, not {shown(kind)}.')
