"""Tells the due dates of one part apart while it is laid out, where stock may be too short for all.

The same part of several orders is laid out as one, since fewer kinds of part make a better nest of equal sheets, and
pieces that are alike need not know their order before they are cut. But then all of them are due when the first is:
with short stock, pieces due next month would be laid because others of their part are due tomorrow, and push out what
another order needs the day after. So where stock may run short each date is a part of its own to the engine, and the
answer is told in the nest's own names again.
"""

from collections.abc import Mapping
from dataclasses import replace
from itertools import count

from nesting.model.nest import Demand, Placement, SheetJob, SheetLayout, SheetNest, Unplaced
from nesting.model.part import SheetPart
from shopfloor.planning.job import Share

AMPLE = 0.4
"""Stock is taken for enough where what is wanted covers no more than this share of it: the poorest yield of nests of
usual parts, with some to spare. Our own choice; a wrong guess lays more than is due, and never less than would fit.
"""


class DueApart:
    """A job whose parts are told apart by due date; `joined` gives its answer as that of the first job."""

    def __init__(self, job: SheetJob, shares: Mapping[str, list[Share]]) -> None:
        self._job = job
        self._name_of: dict[str, str] = {}
        if not _may_be_short(job) or job.rules.most_kinds is not None:
            # Where few kinds may lie on a sheet, one part with two dates would count as two.
            shares = {}
        demands: list[Demand[SheetPart]] = []
        taken = {demand.part.name for demand in job.demands}
        for demand in job.demands:
            of_name = shares.get(demand.part.name, [])
            if len(of_name) < 2:
                demands.append(demand)
                continue
            for share in of_name:
                name = next(
                    name for k in count() if (name := f"{demand.part.name}, due {share.due}{'.' * k}") not in taken
                )
                taken.add(name)
                self._name_of[name] = demand.part.name
                fill_up_to = share.wanted + share.fill if share.fill else None
                part = replace(demand.part, name=name)
                demands.append(replace(demand, part=part, count=share.wanted, due=share.due, fill_up_to=fill_up_to))
        self.job = replace(job, demands=tuple(demands)) if self._name_of else job

    def joined(self, answer: SheetNest) -> SheetNest:
        """The answer in the names of the first job; sheets that are then alike are one with more copies."""
        if not self._name_of:
            return answer
        layouts: dict[tuple[str, tuple[Placement, ...]], SheetLayout] = {}
        laid: dict[str, int] = {}
        for layout in answer.layouts:
            placements = tuple(replace(p, part=self._named(p.part)) for p in layout.placements)
            key = (layout.stock, tuple(sorted(placements, key=_place)))
            known = layouts.get(key)
            layouts[key] = (
                replace(layout, placements=placements)
                if known is None
                else replace(known, copies=known.copies + layout.copies)
            )
            for p in placements:
                laid[p.part] = laid.get(p.part, 0) + layout.copies
        return replace(
            answer, job=self._job, layouts=tuple(layouts.values()), unplaced=self._left_out(answer.unplaced, laid)
        )

    def _named(self, name: str) -> str:
        return self._name_of.get(name, name)

    def _left_out(self, rows: tuple[Unplaced, ...], laid: Mapping[str, int]) -> tuple[Unplaced, ...]:
        reasons = {}
        for row in rows:
            reasons.setdefault(self._named(row.part), row.reason)
        missing = {d.part.name: max(0, d.count - laid.get(d.part.name, 0)) for d in self._job.demands}
        return tuple(Unplaced(name, missing[name], reason) for name, reason in reasons.items() if missing[name])


def _place(p: Placement) -> tuple[str, float, float, float, bool]:
    return p.part, p.x, p.y, p.turn, p.mirrored


def _may_be_short(job: SheetJob) -> bool:
    at_hand = 0.0
    for sheet in job.stock:
        if sheet.count is None:
            return False
        at_hand += sheet.count * sheet.outline.area
    return sum(demand.count * demand.part.area for demand in job.demands) > AMPLE * at_hand
