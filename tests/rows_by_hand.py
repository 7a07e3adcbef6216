"""Lays parts in plain rows, and pieces end to end, in well under a millisecond a piece.

Stands in for the engines where a test is about the shop and not about the layout. It keeps margin, strips that stay
free, gap, stock counts and the chuck's end, so that its nests pass the real check. What is due first goes first, and
parts that may fill left-over room come after those wanted, on sheets that these have begun.
"""

from collections import Counter
from datetime import date
from itertools import groupby

from nesting.errors import Cancelled
from nesting.model.nest import (
    BarLayout,
    BarNest,
    Piece,
    Placement,
    SheetJob,
    SheetLayout,
    SheetNest,
    Unplaced,
)


def lay_out(job, *, budget=0.0, seed=0, on_progress=None, should_stop=None):
    """The nest; progress is told once, when it is complete."""
    if should_stop is not None and should_stop():
        raise Cancelled("Stopped before there was an answer.")
    nest = _sheets(job) if isinstance(job, SheetJob) else _bars(job)
    if on_progress is not None:
        on_progress(nest)
    return nest


def _each_stock(job, fill, area_of):
    """Layout contents per stock until demand or stock ends, equal ones after each other joined into copies."""
    demands = sorted(job.demands, key=lambda demand: demand.due or date.max)
    waiting = [demand.part for demand in demands for _ in range(demand.count)]
    fillers = [demand.part for demand in demands for _ in range(demand.most - demand.count)]
    filled = []
    for stock in sorted(job.stock, key=area_of):
        used = 0
        while waiting and (stock.count is None or used < stock.count):
            _, rest = fill(stock, waiting)
            if len(rest) == len(waiting):
                break
            # Wanted ones stand before the fillers, so these move none of them.
            laid, left = fill(stock, waiting + fillers)
            waiting, fillers = rest, left[len(rest) :]
            filled.append((stock.name, tuple(laid)))
            used += 1
    left = [Unplaced(name, count, "No stock that fits is left.") for name, count in _counted(waiting)]
    return [(stock, laid, len(list(group))) for (stock, laid), group in groupby(filled)], tuple(left)


def _counted(parts):
    return sorted(Counter(part.name for part in parts).items())


def _sheets(job):
    gap, margin, sides = job.rules.gap, job.rules.margin, job.rules.sides
    first_x, first_y = max(margin, sides.left), max(margin, sides.bottom)

    def fill(sheet, parts):
        box = sheet.outline.bounds
        last_x, last_y = box.width - max(margin, sides.right), box.height - max(margin, sides.top)
        laid, left, x, y, row = [], [], first_x, first_y, 0.0
        for part in parts:
            size = part.bounds
            if x > first_x and x + size.width > last_x:
                x, y, row = first_x, y + row + gap, 0.0
            if x + size.width > last_x or y + size.height > last_y:
                left.append(part)
                continue
            laid.append(Placement(part.name, box.left + x - size.left, box.bottom + y - size.bottom))
            x, row = x + size.width + gap, max(row, size.height)
        return laid, left

    layouts, unplaced = _each_stock(job, fill, lambda sheet: (not sheet.is_remnant, sheet.outline.area))
    return SheetNest(job, tuple(SheetLayout(*layout) for layout in layouts), unplaced, engine="rows by hand")


def _bars(job):
    rules = job.rules

    def fill(bar, parts):
        laid, left, start = [], [], rules.lead_end
        for part in parts:
            if start + part.length > bar.length - rules.dead_end:
                left.append(part)
                continue
            laid.append(Piece(part.name, start))
            start += part.length + rules.gap
        return laid, left

    layouts, unplaced = _each_stock(job, fill, lambda bar: bar.length)
    return BarNest(job, tuple(BarLayout(*layout) for layout in layouts), unplaced, engine="rows by hand")
