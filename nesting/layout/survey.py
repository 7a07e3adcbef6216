"""Looks a sheet job over before any engine starts: what can be laid at all, on which sheets, and why the rest cannot.

Engines get only what is left, because to some of them one part that fits nowhere spoils the whole job.
"""

import math
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.layout import fits
from nesting.layout.fits import Form
from nesting.layout.free_rectangle import is_upright_rectangle
from nesting.layout.odd_outlines import may_have_room
from nesting.model.nest import Demand, SheetJob, SheetLayout, Unplaced
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.units import Deg, Seconds

LONGEST_LOOK: Seconds = 0.5
"""How long to look whether parts have room on odd outlines; some milliseconds each are usual."""


@dataclass(frozen=True)
class Survey:
    """`job` holds only the parts and sheets that may meet; `reasons` says why other parts are left out.

    `forms` are each part's forms, `sheets` the names of the sheets each may fit by size; both by the part's name.
    """

    whole_job: SheetJob
    job: SheetJob
    reasons: Mapping[str, str]
    forms: Mapping[str, list[Form]]
    sheets: Mapping[str, frozenset[str]]


def survey(job: SheetJob) -> Survey:
    """What of the job can be laid."""
    proper = tuple(sheet for sheet in job.stock if fits.is_proper_sheet(sheet))
    at_hand = tuple(sheet for sheet in proper if sheet.count != 0)
    reasons: dict[str, str] = {}
    forms: dict[str, list[Form]] = {}
    sheets: dict[str, frozenset[str]] = {}
    kept: list[Demand[SheetPart]] = []
    started_at = time.monotonic()

    def has_room(demand: Demand[SheetPart], turns: tuple[Deg, ...], sheet: Sheet) -> bool:
        # Asked only where it decides, and not for ever: what is let pass costs an engine some time, no more.
        if time.monotonic() - started_at > LONGEST_LOOK:
            return True
        return may_have_room(demand.part, turns, sheet, job.rules.margin, mirror=job.rules.mirror)

    for demand in job.demands:
        part = demand.part
        if demand.count == 0:
            continue
        fault = _fault_of(part, proper)
        if fault is not None:
            reasons[part.name] = fault if proper or not job.stock else fits.BAD_SHEETS
            continue
        turns = job.turns_of(demand)
        forms[part.name] = fits.forms_of(part, turns, mirror=job.rules.mirror)
        fitting = fits.sheets_for(part, forms[part.name], turns, proper, job.rules.margin)
        if turns != "any" and not any(is_upright_rectangle(sheet.outline) for sheet in fitting):
            fitting = [sheet for sheet in fitting if has_room(demand, turns, sheet)]
        if not fitting:
            reasons[part.name] = fits.why_none_fits(part, proper, job.rules.margin)
        elif not any(sheet in at_hand for sheet in fitting):
            reasons[part.name] = fits.NO_STOCK
        else:
            sheets[part.name] = frozenset(sheet.name for sheet in fitting if sheet in at_hand)
            kept.append(demand)
    wanted = set().union(*sheets.values())
    usable = tuple(sheet for sheet in at_hand if sheet.name in wanted)
    return Survey(job, replace(job, stock=usable, demands=tuple(kept)), reasons, forms, sheets)


def _fault_of(part: SheetPart, stock: Sequence[Sheet]) -> str | None:
    """Why a part cannot be laid whatever its turn, or None. Sizes are looked at first, because turning a part that
    spans 1e300 mm would already overflow.
    """
    b = part.bounds
    if not stock:
        return fits.NO_STOCK
    longest = max(math.hypot(sheet.outline.bounds.width, sheet.outline.bounds.height) for sheet in stock)
    if max(b.width, b.height) > longest:
        return fits.LARGER_THAN_EVERY_SHEET
    if max(map(abs, (b.left, b.bottom, b.right, b.top))) > fits.FARTHEST:
        return fits.FAR_AWAY
    return None if fits.is_proper(part) else fits.BAD_OUTLINE


def left_out(looked_over: Survey, layouts: Sequence[SheetLayout], *, out_of_time: bool = False) -> tuple[Unplaced, ...]:
    """A row for each part that is not laid as often as wanted, with the reason.

    `out_of_time` says that the layouts were left off before all was tried.
    """
    laid: Counter[str] = Counter()
    used: Counter[str] = Counter()
    for layout in layouts:
        used[layout.stock] += layout.copies
        for placement in layout.placements:
            laid[placement.part] += layout.copies
    spent = {
        sheet.name for sheet in looked_over.job.stock if sheet.count is not None and used[sheet.name] >= sheet.count
    }

    def reason(name: str) -> str:
        if name in looked_over.reasons:
            return looked_over.reasons[name]
        if looked_over.sheets[name] <= spent:
            return fits.NO_STOCK
        return fits.NO_TIME if out_of_time else fits.NO_ROOM

    return tuple(
        Unplaced(demand.part.name, demand.count - laid[demand.part.name], reason(demand.part.name))
        for demand in looked_over.whole_job.demands
        if demand.count > laid[demand.part.name]
    )
