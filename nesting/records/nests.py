"""Records of nests: a job with the sheets or bars that answer it."""

from collections.abc import Mapping
from typing import Any

from nesting.errors import BadRecord
from nesting.model.bound import StockBound
from nesting.model.nest import BarLayout, BarNest, Nest, Piece, Placement, SheetJob, SheetLayout, SheetNest, Unplaced
from nesting.records.jobs import job_from_record, job_to_record
from nesting.records.values import VERSION, Record, as_list, as_object, built, flag, number, text, whole_number


def nest_to_record(nest: Nest) -> Record:
    """The nest form, which stands alone: it carries stock, rules and parts too."""
    record: Record = {"version": VERSION} | job_to_record(nest.job)
    if isinstance(nest, SheetNest):
        record["sheets"] = [sheet_layout_to_record(layout) for layout in nest.layouts]
    else:
        record["bars"] = [bar_layout_to_record(bar) for bar in nest.layouts]
    record["unplaced"] = [{"part": u.part, "count": u.count, "reason": u.reason} for u in nest.unplaced]
    record |= {"proven_optimal": nest.proven_optimal, "seed": nest.seed, "seconds": nest.seconds}
    record |= {"engine": nest.engine, "cut_short": nest.cut_short}
    return record if nest.bound is None else record | {"bound": bound_to_record(nest.bound)}


def nest_from_record(value: object, where: str = "nest") -> Nest:
    """The nest, not checked: whether it can be cut is for `nesting.verify`.

    Raises:
        BadRecord: with the place in the record and what is needed there.
    """
    record = as_object(value, where)
    job = job_from_record(record, where)
    unplaced = []
    for i, each in enumerate(as_list(record.get("unplaced", []), f"{where}.unplaced")):
        here = f"{where}.unplaced[{i}]"
        row = as_object(each, here)
        unplaced.append(
            Unplaced(text(row, "part", here), whole_number(row, "count", here), text(row, "reason", here, ""))
        )
    proven = flag(record, "proven_optimal", where)
    seed = whole_number(record, "seed", where) if "seed" in record else 0
    seconds = number(record, "seconds", where, 0.0)
    engine, cut_short = text(record, "engine", where, ""), flag(record, "cut_short", where)
    bound = None if record.get("bound") is None else bound_from_record(record["bound"], f"{where}.bound")
    if isinstance(job, SheetJob):
        sheets = tuple(
            sheet_layout_from_record(s, f"{where}.sheets[{i}]")
            for i, s in enumerate(as_list(record.get("sheets"), f"{where}.sheets"))
        )
        return SheetNest(job, sheets, tuple(unplaced), proven, seed, seconds, engine, cut_short, bound)
    bars = tuple(
        bar_layout_from_record(b, f"{where}.bars[{i}]")
        for i, b in enumerate(as_list(record.get("bars"), f"{where}.bars"))
    )
    return BarNest(job, bars, tuple(unplaced), proven, seed, seconds, engine, cut_short, bound)


def bound_to_record(bound: StockBound) -> Record:
    return {"cost": bound.cost, "count": bound.count, "last_mm": bound.last, "taken": bound.taken}


def bound_from_record(value: object, where: str) -> StockBound:
    row = as_object(value, where)
    cost, last, taken = number(row, "cost", where), number(row, "last_mm", where), number(row, "taken", where)
    count = whole_number(row, "count", where)
    return built(where, lambda: StockBound(cost, count, last, taken))


def placement_to_record(p: Placement) -> Record:
    return {"part": p.part, "x_mm": p.x, "y_mm": p.y, "turn_deg": p.turn, "mirrored": p.mirrored}


def placement_from_record(value: object, where: str) -> Placement:
    row = as_object(value, where)
    return Placement(
        text(row, "part", where),
        number(row, "x_mm", where),
        number(row, "y_mm", where),
        number(row, "turn_deg", where, 0.0),
        flag(row, "mirrored", where),
    )


def sheet_layout_to_record(layout: SheetLayout) -> Record:
    placements = [placement_to_record(p) for p in layout.placements]
    return {"stock": layout.stock, "copies": layout.copies, "placements": placements}


def bar_layout_to_record(bar: BarLayout) -> Record:
    pieces = [{"part": p.part, "start_mm": p.start, "flipped": p.flipped, "turn_deg": p.turn} for p in bar.pieces]
    return {"stock": bar.stock, "copies": bar.copies, "pieces": pieces}


def _copies(record: Mapping[str, Any], where: str) -> int:
    copies = whole_number(record, "copies", where) if "copies" in record else 1
    if copies < 1:
        raise BadRecord(f"{where}.copies: 1 or more is needed, not {copies}.")
    return copies


def sheet_layout_from_record(value: object, where: str) -> SheetLayout:
    record = as_object(value, where)
    placements = as_list(record.get("placements"), f"{where}.placements")
    return SheetLayout(
        text(record, "stock", where),
        tuple(placement_from_record(each, f"{where}.placements[{i}]") for i, each in enumerate(placements)),
        _copies(record, where),
    )


def bar_layout_from_record(value: object, where: str) -> BarLayout:
    record = as_object(value, where)
    pieces = []
    for i, each in enumerate(as_list(record.get("pieces"), f"{where}.pieces")):
        here = f"{where}.pieces[{i}]"
        row = as_object(each, here)
        pieces.append(
            Piece(
                text(row, "part", here),
                number(row, "start_mm", here),
                flag(row, "flipped", here),
                number(row, "turn_deg", here, 0.0),
            )
        )
    return BarLayout(text(record, "stock", where), tuple(pieces), _copies(record, where))
