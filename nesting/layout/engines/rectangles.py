"""Jobs of rectangles alone: a search that wastes nothing, and the rectangle solver of the packing library.

Where all may go on one sheet, every way to lay them without waste is tried first. Then the library lays all, on the
cheapest sheets. These are filled one by one, as full as can be, so that the last one is left as empty as can be.
"""

import random
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import cycle

from nesting.errors import BadValue
from nesting.layout.engine import Report, sheets_to_record
from nesting.layout.engines.rectangle_library import Rectangles
from nesting.layout.rectangular import are_rectangles
from nesting.layout.score import Extents, Score, score_sheets
from nesting.model.nest import SheetJob, SheetLayout, SheetNest
from nesting.records.jobs import job_from_record
from nesting.records.values import Record, number, whole_number
from nesting.units import Seconds

TRIED_SHARE = 0.4
"""Share of the time for trying all ways."""

ALL_SHARE = 0.4
"""Share of what is left then for the library to lay all on the cheapest sheets."""

ROUND_SHARE = 0.15
"""Share of the time for filling sheets one by one, once; how full they get by chance, so it is done again and again."""

LEAST_SHARE = 0.2
"""With less of the time left the emptiest sheet is laid once more, for half of it."""

MOST_POWER = 0.25
"""Up to which power above 1 of its area a part is worth on a sheet to be filled: large ones then go before small."""

FEW_SHEETS = 8
"""So many sheets at most are filled one by one."""


def solve_record(request: Record, report: Report) -> Record:
    """The engine's call; `nesting.layout.engine` describes request and answer."""
    started_at, seconds = time.monotonic(), number(request, "seconds", "request")
    job, seed = job_from_record(request["job"]), whole_number(request, "seed", "request")
    if not isinstance(job, SheetJob):
        raise BadValue("rectangles: a sheet job is needed.")
    rectangles = Rectangles(job, number(request, "extra_gap_mm", "request", 0.0))
    if not rectangles.sheets or not are_rectangles(job):
        return sheets_to_record([], finished=True)

    def is_tried() -> bool:
        return time.monotonic() - started_at > TRIED_SHARE * seconds

    chance = random.Random(seed)  # noqa: S311 - not for secrets
    laid = rectangles.on_one(chance, is_tried)
    if laid is not None:
        return sheets_to_record([laid], finished=True)

    def remaining() -> Seconds:
        return seconds - (time.monotonic() - started_at)

    layouts = rectangles.lay_all(ALL_SHARE * remaining(), seed, lambda some: report(sheets_to_record(some)))
    if not layouts:
        return sheets_to_record([])
    best = (_score_of(job, layouts), layouts)
    report(sheets_to_record(layouts))

    def offer(some: list[SheetLayout] | None) -> None:
        nonlocal best
        if some is not None and (score := _score_of(job, some)).is_better_than(best[0]):
            best = (score, some)
            report(sheets_to_record(some))

    def shortened() -> list[SheetLayout] | None:
        last = min(best[1], key=lambda layout: _score_of(job, [layout]).rest)
        shorter = rectangles.shorter(last.stock, Counter(p.part for p in last.placements), remaining() / 2.0)
        others = [layout for layout in best[1] if layout is not last]
        if last.copies > 1:
            others.append(replace(last, copies=last.copies - 1))
        return None if shorter is None else [*others, shorter]

    stock = [layout.stock for layout in layouts for _ in range(layout.copies)]
    if len(stock) <= FEW_SHEETS:
        for name in cycle(dict.fromkeys(stock)):
            if remaining() < LEAST_SHARE * seconds:
                break
            others = [*stock]
            others.remove(name)
            chance.shuffle(others)
            power = 1.0 + MOST_POWER * chance.random()
            offer(rectangles.filled_up([*others, name], power, min(remaining(), ROUND_SHARE * seconds)))
    offer(shortened())
    return sheets_to_record(best[1])


def _score_of(job: SheetJob, layouts: Sequence[SheetLayout]) -> Score:
    return score_sheets(SheetNest(job, tuple(layouts)), Extents(job))
