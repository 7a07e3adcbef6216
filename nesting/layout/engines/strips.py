"""Lays pieces side by side on a strip of given height, as short as can be, with the strip library.

The strip library knows outlines only: no windows, no odd sheets. For that it packs outlines better than anything else
at hand. The request holds

- `items`: for each piece its `ring` (points of a polygon that encloses it), `count` and `turns_deg` (null: any turn);
- `height_mm`, `gap_mm`, `seconds`, `seed`, and `workers`, the threads that it may use;
- `target_mm`: it ends as soon as the strip is no longer than this; null: it goes on to the end;
- `decide_s`: with a target, it ends at this time too where the target is further off than CLOSE.

It reports and answers `width_mm` and `places` (item, x_mm, y_mm, turn_deg: turned about the piece's origin, then
shifted, on a strip from 0, 0), and `reached`. Known of the library (spyrrow 0.9, measured): it panics where something
fits exactly, keeps the gap to the strip's border too, computes in single precision, and overruns its time by seconds.
"""

import importlib
import math
import threading
import time
from typing import Any

from nesting.errors import ChildFailed
from nesting.layout.engine import Report
from nesting.records.values import Record, as_list, as_object, number, optional_number, whole_number
from nesting.units import Mm, Seconds

library: Any = importlib.import_module("spyrrow")
"""Without complete type stubs, so imported past the type checker."""

HAIR: Mm = 1e-3
"""By how much the strip is made higher: half of what the checker forgives, and no exact fit to panic at."""

ROUNDING = 2e-7
"""Share of the strip's size by which the gap grows: single precision is good for 6e-8 of it."""

CLOSE = 0.006
"""Share of the target's length that may be won in the second phase."""

POLL: Seconds = 0.02

SQUEEZE = 0.25
"""Share of the time for the library's second phase, which goes in smaller steps than the first with its 1 %."""


def strip_record(request: Record, report: Report) -> Record:
    """The engine's call."""
    seconds = number(request, "seconds", "request")
    until = time.monotonic() + seconds
    height, gap = number(request, "height_mm", "request"), number(request, "gap_mm", "request")
    target = optional_number(request, "target_mm", "request")
    decide = optional_number(request, "decide_s", "request") or seconds
    decide_at = until - seconds + decide
    rows = [as_object(each, "request.items") for each in as_list(request.get("items"), "request.items")]
    items = [
        library.Item(str(i), [(x, y) for x, y in row["ring"]], row["count"], row["turns_deg"])
        for i, row in enumerate(rows)
    ]
    kept = gap + (ROUNDING * height if gap else 0.0)
    strip = library.StripPackingInstance("", height + 2.0 * kept + HAIR, items)
    explore = max(1, round(decide * (1.0 - SQUEEZE)))
    settings = library.StripPackingConfig(
        early_termination=False,
        total_computation_time=None,
        exploration_time=explore,
        compression_time=math.ceil(seconds) + 1 - explore,  # the clock here ends it, not the library's
        num_workers=whole_number(request, "workers", "request"),
        seed=whole_number(request, "seed", "request"),
        min_items_separation=kept or None,
    )
    queue = library.ProgressQueue()
    ended: list[BaseException | None] = []

    def run() -> None:
        try:
            strip.solve(settings, queue)
            ended.append(None)
        except BaseException as fault:  # a panic of the library is no Exception
            ended.append(fault)

    threading.Thread(target=run, daemon=True).start()
    best: Record | None = None
    while True:
        is_last = bool(ended) or time.monotonic() >= until
        found = [each for kind, each in queue.drain() if kind not in (1, 2)]  # what still overlaps is of no use
        if found:
            shortest = min(found, key=lambda each: each.width)
            answer = _record(shortest, kept, target)
            if best is None or answer["width_mm"] < best["width_mm"]:
                best = answer
                report(best)
        if is_last or (best is not None and best["reached"]):
            break
        if target is not None and time.monotonic() >= decide_at:
            if best is None or best["width_mm"] > target * (1.0 + CLOSE):
                break
            decide_at = until
        time.sleep(POLL)
    if best is None:
        raise ChildFailed(f"The strip library found nothing: {ended[0] if ended else 'its time ran out'}.")
    return best | {"finished": False}


def _record(solution: Any, kept: Mm, target: Mm | None) -> Record:
    width = float(solution.width) - 2.0 * kept
    places = [
        [int(each.id), each.translation[0] - kept, each.translation[1] - kept, float(each.rotation)]
        for each in solution.placed_items
    ]
    return {"width_mm": width, "places": places, "reached": target is not None and width <= target + HAIR}
