"""Lays pieces into what is free of one sheet, as much of them as can be, with the packing library.

The request holds a sheet job of one sheet, what lies on it already as `fixed` (records of placements; none for a sheet
that is still empty), and `seconds`. The job counts both what lies there and what is offered. The answer holds the
`placements` that were added. For a sheet of odd outline it is the way to lay it at all, for others to fill what a run
of the strip library has left open.
"""

import time
from collections import Counter
from dataclasses import replace

from nesting.errors import BadValue
from nesting.layout.bulk import bulk_of
from nesting.layout.engine import Report
from nesting.layout.engines.library import PackingLibrary, library
from nesting.layout.free_room import job_around
from nesting.model.nest import SheetJob, SheetLayout
from nesting.model.part import SheetPart
from nesting.records.jobs import job_from_record
from nesting.records.nests import placement_from_record, placement_to_record
from nesting.records.values import Record, as_list, number

LARGE_FIRST = 1.1
"""The power of its bulk that a piece is worth: small ones find room elsewhere."""


def fill_record(request: Record, report: Report) -> Record:
    """The engine's call."""
    until = time.monotonic() + number(request, "seconds", "request")
    job = job_from_record(request["job"])
    if not isinstance(job, SheetJob):
        raise BadValue("around: a sheet job is needed.")
    rows = as_list(request.get("fixed"), "request.fixed")
    fixed = tuple(placement_from_record(row, f"request.fixed[{i}]") for i, row in enumerate(rows))
    if fixed:
        around = job_around(job, [SheetLayout(job.stock[0].name, fixed)])
        rooms = tuple(sheet for sheet in around.job.stock if sheet.name in around.rooms)
        job = replace(around.job, stock=rooms)
    bulk = {demand.part.name: bulk_of(demand.part, job.rules.gap) for demand in job.demands}
    offered = {demand.part.name: demand.count for demand in job.demands if demand.count}
    if not offered or not job.stock:
        return {"placements": []}

    def worth(part: SheetPart) -> float:
        return float(bulk[part.name] ** LARGE_FIRST)

    extra_gap = number(request, "extra_gap_mm", "request", 0.0)
    stock = [(sheet, 1) for sheet in job.stock]
    packing = PackingLibrary(job, extra_gap).build(library.Objective.Knapsack, offered, stock, worth)
    layouts = packing.solve(max(0.05, until - time.monotonic()))
    added = [p for layout in layouts for p in layout.placements]
    used = Counter(p.part for p in added)
    if any(count > offered[name] for name, count in used.items()):
        return {"placements": []}
    return {"placements": [placement_to_record(p) for p in added]}
