"""Says whether a bar nest may be cut: pieces in order from the front, gaps kept, lead end trimmed, dead end untouched.

The gap lies between two pieces, along every line of the bar: mitres that lie against each other may overlap in length,
and are held to the planes of their ends (`bar_ends`). The last piece may end where the dead end begins. Differences up
to CHECK_SLACK are forgiven.
"""

import math
from collections import Counter
from collections.abc import Sequence

from nesting.model.findings import Finding, Severity
from nesting.model.laid_piece import fits_section, lie_in_words
from nesting.model.nest import BarJob, BarLayout, BarNest, BarRules, Piece
from nesting.model.part import TubePart
from nesting.model.stock import Bar
from nesting.units import CHECK_SLACK, Point
from nesting.verify.bar_ends import Neighbour, Neighbours, clearance, least_length, shared_cut_along
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
    parts = {demand.part.name: demand.part for demand in nest.job.demands}
    ends = Neighbours(parts)
    for number, layout in enumerate(nest.layouts, 1):
        faults += _layout_faults(f"Bar {number}", layout, nest.job, ends)
    return tuple(faults)


def _layout_faults(where: str, layout: BarLayout, job: BarJob, ends: Neighbours) -> list[Finding]:
    rules = job.rules
    bar = next((bar for bar in job.stock if bar.name == layout.stock), None)
    faults: list[Finding] = []
    row: list[Neighbour] = []
    ahead: Neighbour | None = None
    for piece in layout.pieces:
        start, part = piece.start, ends.parts.get(piece.part)
        if not (math.isfinite(start) and math.isfinite(piece.turn)):
            faults.append(_fault("not-a-number", f"{where}: {piece.part} starts at {start}, turned {piece.turn}°."))
            continue
        if part is None:
            continue  # an unknown part, already named among the counts
        faults += _turn_faults(where, piece, part, rules)
        laid = ends.of(piece)
        row.append(laid)
        if start < rules.lead_end - CHECK_SLACK:
            text = f"{where}: {piece.part} starts at {start:.2f} mm, in the {rules.lead_end:g} mm trimmed at the front."
            faults.append(_fault("lead-end", text, (start, 0.0)))
        if ahead is not None:
            faults += _pair_faults(where, ahead, laid, rules)
        if bar is not None and laid.end > bar.length - rules.dead_end + CHECK_SLACK:
            text = (
                f"{where}: {piece.part} ends at {laid.end:.2f} mm, but {bar.name} may be cut only up to "
                f"{bar.length - rules.dead_end:.2f} mm."
            )
            faults.append(_fault("dead-end", text, (laid.end, 0.0)))
        if ahead is None or start >= ahead.start:
            ahead = laid
    if bar is not None and row:
        faults += _sum_faults(where, bar, row, rules)
    return faults


def _turn_faults(where: str, piece: Piece, part: TubePart, rules: BarRules) -> list[Finding]:
    """A piece that lies as the rules or its section do not allow: the bar would have to be another one there."""
    at, lie = (piece.start, 0.0), lie_in_words(piece)
    if not fits_section(part.section, flipped=piece.flipped, turn=piece.turn):
        text = f"{where}: {piece.part} is laid {lie}, but {part.section} does not lie on itself then."
        return [_fault("turn-not-allowed", text, at)]
    if not rules.may_turn(piece.turn) or (piece.flipped and not rules.flip):
        return [
            _fault("turn-not-allowed", f"{where}: {piece.part} is laid {lie or 'as drawn'}; the rules forbid it.", at)
        ]
    return []


def _pair_faults(where: str, ahead: Neighbour, laid: Neighbour, rules: BarRules) -> list[Finding]:
    """What is wrong between a piece and the one in front of it."""
    at = (laid.start, 0.0)
    if laid.start < ahead.start:
        text = f"{where}: {laid.name} at {laid.start:.2f} mm is listed after {ahead.name} at {ahead.start:.2f} mm."
        return [_fault("out-of-order", text, at)]
    between = clearance(ahead, laid)
    if between < -CHECK_SLACK:
        text = f"{where}: {laid.name} starts at {laid.start:.2f} mm, before {ahead.name} ends at {ahead.end:.2f} mm"
        interlocked = laid.start - ahead.end < between - CHECK_SLACK
        text += f"; they overlap by {-between:.2f} mm." if interlocked else "."
        return [_fault("overlap", text, at)]
    if between >= rules.gap - CHECK_SLACK:
        return []
    if rules.shared_cut is not None:
        along = shared_cut_along(ahead, laid, rules.shared_cut)
        if along is not None and abs(between - along) <= CHECK_SLACK:
            return []
    text = f"{where}: {between:.3f} mm between {ahead.name} and {laid.name}; the gap is {rules.gap:g} mm."
    return [_fault("gap-short", text, at)]


def _sum_faults(where: str, bar: Bar, row: Sequence[Neighbour], rules: BarRules) -> list[Finding]:
    """More on the bar than it holds, however the pieces are shifted."""
    last = len(row) - 1
    pieces = math.fsum(least_length(piece, is_first=k == 0, is_last=k == last) for k, piece in enumerate(row))
    gap = rules.gap if rules.shared_cut is None else rules.shared_cut
    needed = pieces + gap * last + rules.lead_end + rules.dead_end
    if needed <= bar.length + CHECK_SLACK * (len(row) + 1):
        return []
    text = f"{where}: pieces, gaps and both ends make {needed:.2f} mm; {bar.name} has {bar.length:g} mm."
    return [_fault("too-long", text)]


def _fault(code: str, message: str, at: Point | None = None) -> Finding:
    return Finding(code, Severity.REFUSAL, message, at)
