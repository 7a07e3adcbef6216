"""Picks the constructions that race for a job, the most promising first."""

from nesting.layout.engine import Construction
from nesting.layout.free_rectangle import is_upright_rectangle
from nesting.layout.rectangular import are_rectangles
from nesting.layout.survey import Survey
from nesting.model.nest import BarJob, BarNest, SheetNest

ALL_AT_ONCE = Construction("irregular", "nesting.layout.engines.irregular:solve_record")
AS_MANY_AS_FIT = Construction("irregular, as many as fit", ALL_AT_ONCE.call, {"most": True})
FULL_SHEETS = Construction("full sheets", "nesting.layout.engines.full_sheets:solve_record")
SHEET_BY_SHEET = Construction("sheet by sheet", "nesting.layout.engines.by_sheet:solve_record")
RECTANGLES = Construction("rectangles", "nesting.layout.engines.rectangles:solve_record")
KITS = Construction("kit by kit", "nesting.layout.engines.kits:solve_record")
BARS = Construction("cutting stock", "nesting.layout.engines.bars:solve_record")
BAR_PATTERNS = Construction("patterns of bars", "nesting.layout.engines.bar_patterns:solve_record")
BARS_AS_MANY_AS_FIT = Construction("cutting stock, as many as fit", BARS.call, {"most": True})

LONG_RUN_SHEETS = 12
"""Where rows take more sheets than this, laying all at once gets nowhere in a minute, and only takes processor time."""


def sheet_constructions(looked_over: Survey, rows: SheetNest) -> list[Construction]:
    """What to run after plain rows, which gave `rows`.

    Full sheets keep both cores busy by themselves; what stands after them runs when they have nothing left to do, or
    have failed.
    """
    wanted = sum(demand.count for demand in looked_over.job.demands)
    if not wanted:
        return []
    rules, is_short = looked_over.job.rules, rows.placed_count < wanted
    if rules.most_kinds is not None:
        # The only engine that keeps to few kinds on a sheet.
        return [SHEET_BY_SHEET]
    if is_short or rules.together:
        return [KITS if rules.together else SHEET_BY_SHEET, AS_MANY_AS_FIT if is_short else ALL_AT_ONCE]
    # The engine of rectangles takes one core, beside whatever else is the best for the job.
    first = [RECTANGLES] if are_rectangles(looked_over.job) else []
    if any(is_upright_rectangle(sheet.outline) for sheet in looked_over.job.stock):
        return [*first, FULL_SHEETS, ALL_AT_ONCE, SHEET_BY_SHEET]
    if sum(layout.copies for layout in rows.layouts) > LONG_RUN_SHEETS:
        return [*first, SHEET_BY_SHEET]
    return [*first, ALL_AT_ONCE, SHEET_BY_SHEET]


def bar_constructions(job: BarJob, first_fit: BarNest, *, joined: bool) -> list[Construction]:
    """What to run after first fit, which gave `first_fit`; the job holds only what may be laid.

    `joined` says that pieces save bar where they lie against each other, which the plain solver does not know.
    """
    wanted = sum(demand.count for demand in job.demands)
    if not wanted:
        return []
    if joined:
        return [BAR_PATTERNS]
    if first_fit.placed_count < wanted:
        return [BARS, BARS_AS_MANY_AS_FIT]
    # Each proves what the other finds: where one searches long, the other is often there at once.
    return [BARS, BAR_PATTERNS]
