"""Lays parts that may fill up room into what a nest has left over on its sheets, and takes no sheet for them.

What a sheet leaves to keep, its remnant, stays free. Sheets that are cut more than once stay alike. Where a sheet may
hold few kinds only, nothing is filled up: which kinds a solver picks cannot be told to it.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace

from nesting.errors import Cancelled, NestingError
from nesting.layout.deadline import Deadline
from nesting.layout.free_room import job_around, nest_with_fixed
from nesting.layout.remnant import sheet_remnant
from nesting.layout.sides import without_sides
from nesting.model.findings import Finding
from nesting.model.nest import SheetJob, SheetNest
from nesting.units import Seconds

SHARE = 0.15
"""Share of the time that is kept for it."""

LONGEST: Seconds = 10.0

type Lay = Callable[[SheetJob, Deadline], SheetNest]


def may_be_filled(job: SheetJob) -> bool:
    """Whether any part may be laid beyond its count."""
    return job.rules.most_kinds is None and any(demand.most > demand.count for demand in job.demands)


def time_kept(budget: Seconds) -> Seconds:
    return min(LONGEST, SHARE * budget)


def filled_up(
    nest: SheetNest, deadline: Deadline, lay: Lay, check: Callable[[SheetNest], Sequence[Finding]]
) -> SheetNest:
    """The nest with as many further parts in it as were found room for; the same where there is none, or no time."""
    if deadline.is_over or not nest.layouts:
        return nest
    job = nest.job
    used: Counter[str] = Counter()
    for layout in nest.layouts:
        used[layout.stock] += layout.copies
    demands = tuple(replace(demand, count=demand.most, fill_up_to=None) for demand in job.demands)
    stock = tuple(replace(sheet, count=used[sheet.name]) for sheet in job.stock if used[sheet.name])
    rules = replace(job.rules, together=False)
    remnants = [sheet_remnant(nest, index) for index in range(len(nest.layouts))]
    around = job_around(without_sides(replace(job, stock=stock, demands=demands, rules=rules)), nest.layouts, remnants)
    if not around.job.stock or not any(demand.count for demand in around.job.demands):
        return nest
    try:
        answer = lay(around.job, Deadline(max(0.05, deadline.remaining), deadline.seed, deadline.should_stop))
    except (Cancelled, NestingError):
        return nest
    layouts = nest_with_fixed(job, nest.layouts, around, answer).layouts
    laid: Counter[str] = Counter()
    for layout in layouts:
        for p in layout.placements:
            laid[p.part] += layout.copies
    wanted = {demand.part.name: demand.count for demand in job.demands}
    unplaced = tuple(
        replace(row, count=wanted[row.part] - laid[row.part])
        for row in nest.unplaced
        if wanted[row.part] > laid[row.part]
    )
    fuller = replace(nest, layouts=layouts, unplaced=unplaced, seconds=deadline.elapsed)
    # It was there before: whatever is wrong with the fuller one, the nest itself has passed.
    return nest if check(fuller) else fuller
