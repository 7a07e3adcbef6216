"""Says whether a bar nest may be cut: pieces in order from the front, gaps kept, lead end trimmed, dead end untouched.

The gap lies between two pieces; the last piece may end where the dead end begins. Differences up to CHECK_SLACK are
forgiven.
"""

import math
from collections import Counter
from collections.abc import Mapping

from nesting.model.findings import Finding, Severity
from nesting.model.nest import BarJob, BarLayout, BarNest
from nesting.units import CHECK_SLACK, Mm, Point
from nesting.verify.counts import count_faults, stock_faults


def check_bars(nest: BarNest) -> tuple[Finding, ...]:
    """The faults of the nest; none means that it keeps its job's rules. Each names the bar (counted from 1), and its
    place is the distance from the bar's front, with 0 as second number.
    """
    placed: Counter[str] = Counter()
    for layout in nest.layouts:
        for piece in layout.pieces:
            placed[piece.part] += layout.copies
    faults = [
        *stock_faults("bar", nest.layouts, {bar.name: bar.count for bar in nest.job.stock}),
        *count_faults({demand.part.name: demand.count for demand in nest.job.demands}, placed, nest.unplaced),
    ]
    lengths = {demand.part.name: demand.part.length for demand in nest.job.demands}
    for number, layout in enumerate(nest.layouts, 1):
        faults += _layout_faults(f"Bar {number}", layout, nest.job, lengths)
    return tuple(faults)


def _layout_faults(where: str, layout: BarLayout, job: BarJob, lengths: Mapping[str, Mm]) -> list[Finding]:
    rules = job.rules
    bar = next((bar for bar in job.stock if bar.name == layout.stock), None)
    faults: list[Finding] = []
    ahead: tuple[str, Mm, Mm] | None = None
    sum_of_pieces: list[Mm] = []
    for piece in layout.pieces:
        start, length = piece.start, lengths.get(piece.part)
        if not math.isfinite(start):
            faults.append(_fault("not-a-number", f"{where}: {piece.part} starts at {start}."))
            continue
        if length is None:
            continue  # an unknown part, already named among the counts
        sum_of_pieces.append(length)
        at = (start, 0.0)
        if start < rules.lead_end - CHECK_SLACK:
            text = f"{where}: {piece.part} starts at {start:.2f} mm, in the {rules.lead_end:g} mm trimmed at the front."
            faults.append(_fault("lead-end", text, at))
        if ahead is not None:
            name, begin, end = ahead
            if start < begin:
                text = f"{where}: {piece.part} at {start:.2f} mm is listed after {name} at {begin:.2f} mm."
                faults.append(_fault("out-of-order", text, at))
            elif start < end - CHECK_SLACK:
                text = f"{where}: {piece.part} starts at {start:.2f} mm, before {name} ends at {end:.2f} mm."
                faults.append(_fault("overlap", text, at))
            elif start < end + rules.gap - CHECK_SLACK:
                text = f"{where}: {start - end:.3f} mm between {name} and {piece.part}; the gap is {rules.gap:g} mm."
                faults.append(_fault("gap-short", text, at))
        if bar is not None and start + length > bar.length - rules.dead_end + CHECK_SLACK:
            text = (
                f"{where}: {piece.part} ends at {start + length:.2f} mm, but {bar.name} may be cut only up to "
                f"{bar.length - rules.dead_end:.2f} mm."
            )
            faults.append(_fault("dead-end", text, (start + length, 0.0)))
        if ahead is None or start >= ahead[1]:
            ahead = (piece.part, start, start + length)
    if bar is not None and sum_of_pieces:
        needed = math.fsum(sum_of_pieces) + rules.gap * (len(sum_of_pieces) - 1) + rules.lead_end + rules.dead_end
        if needed > bar.length + CHECK_SLACK * (len(sum_of_pieces) + 1):
            text = f"{where}: pieces, gaps and both ends make {needed:.2f} mm; {bar.name} has {bar.length:g} mm."
            faults.append(_fault("too-long", text))
    return faults


def _fault(code: str, message: str, at: Point | None = None) -> Finding:
    return Finding(code, Severity.REFUSAL, message, at)
