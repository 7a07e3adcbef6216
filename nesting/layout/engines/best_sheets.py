"""The best layouts so far of an engine that lays sheet after sheet, and rows for what it has on no sheet yet."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace

from nesting.layout.engine import Report, sheets_to_record
from nesting.layout.engines.rows import STANDS, lay_rows
from nesting.layout.measures import Measures
from nesting.layout.score import Extents, Score, score_sheets
from nesting.layout.sheet_plan import SheetPlan, counts_of
from nesting.model.nest import SheetJob, SheetLayout, SheetNest
from nesting.records.values import Record
from nesting.units import Mm


class BestSheets:
    """Reports each layout that is better than all before it."""

    def __init__(self, job: SheetJob, report: Report) -> None:
        self._job, self._report = job, report
        self._extents = Extents(job)
        self._score: Score | None = None
        self._layouts: list[SheetLayout] = []

    def offer(self, layouts: Sequence[SheetLayout]) -> None:
        score = score_sheets(SheetNest(self._job, tuple(layouts)), self._extents)
        if score.is_better_than(self._score):
            self._score, self._layouts = score, list(layouts)
            self._report(self.record())

    def record(self) -> Record:
        """The best so far; without a sheet where there is none."""
        return sheets_to_record(self._layouts)


def rows_of_the_rest(
    plan: SheetPlan, measures: Measures, *, extra_gap: Mm, is_over: Callable[[], bool]
) -> Sequence[SheetLayout]:
    """Plain rows of what is on no sheet yet, on what is left of the stock."""
    job = plan.job
    loose = plan.loose - sum((counts_of(layout) for layout in plan.last), Counter())
    left = tuple(replace(d, count=loose[d.part.name]) for d in job.demands if loose[d.part.name] > 0)
    there = tuple(replace(sheet, count=plan.at_hand(sheet.name)) for sheet in job.stock)
    rest = replace(job, stock=tuple(sheet for sheet in there if sheet.count != 0), demands=left)
    forms = {demand.part.name: measures.forms[demand.part.name] for demand in left}
    best: tuple[Score, Sequence[SheetLayout]] | None = None
    for stand in STANDS[:2]:
        rows = lay_rows(rest, forms, stand, extra_gap=extra_gap, is_over=is_over)
        score = score_sheets(SheetNest(rest, rows), plan.extents)
        if score.is_better_than(best[0] if best else None):
            best = (score, rows)
    return best[1] if best else ()
