"""Lays all parts at once with the packing library: true arcs, true holes, several sizes of sheet.

`most` among the request's options says what is wanted where stock is short: then as many parts as possible are laid,
each counting alike but for those due earlier. Else all are laid, on the cheapest sheets, with the last sheet as short
as can be.
"""

import random
from typing import Any

from nesting.errors import BadValue
from nesting.layout.engine import Report, sheets_to_record
from nesting.layout.engines.library import PackingLibrary, library
from nesting.layout.score import due_ranks, due_worth
from nesting.model.nest import SheetJob
from nesting.records.jobs import job_from_record
from nesting.records.values import Record, flag, number, whole_number


def solve_record(request: Record, report: Report) -> Record:
    """The engine's call; `nesting.layout.engine` describes request and answer."""
    job = job_from_record(request["job"])
    if not isinstance(job, SheetJob):
        raise BadValue("irregular: a sheet job is needed.")
    packing_library = PackingLibrary(job, number(request, "extra_gap_mm", "request", 0.0))
    counts = {demand.part.name: demand.count for demand in job.demands}
    names = list(counts)
    seed = whole_number(request, "seed", "request")
    if seed:
        # The library has no seed; the order of its item types is what decides between equals.
        random.Random(seed).shuffle(names)  # noqa: S311 - not for secrets
    wants_most, ranks = flag(request, "most", "request"), due_ranks(job)
    packing = packing_library.build(
        _objective(job, wants_most=wants_most),
        {name: counts[name] for name in names},
        [(sheet, sheet.count) for sheet in job.stock],
        (lambda part: due_worth(ranks, part.name)) if wants_most else None,
    )
    layouts = packing.solve(number(request, "seconds", "request"), lambda found: report(sheets_to_record(found)))
    return sheets_to_record(layouts)


def _objective(job: SheetJob, *, wants_most: bool) -> Any:
    if wants_most:
        return library.Objective.Knapsack
    if len(job.stock) == 1:
        return library.Objective.BinPackingWithLeftovers
    return library.Objective.VariableSizedBinPacking
