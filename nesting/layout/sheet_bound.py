"""What no sheet nest can do without, from areas and widths alone, and whether a nest has come down to it.

Grown by half the gap, the outlines of the parts on a sheet are disjoint and lie in its usable area grown by half the
gap. So the areas of all parts, grown, less what windows can hold of them, need that much room on sheets; and on the
emptiest sheet what the others cannot take needs length along x. Turns do not matter to areas, so this holds for free
turning too. Rules that only narrow the choice, such as due dates or kits, make nests no better.

Numbers of sheets are counted by what the checker lets pass (CHECK_SLACK), lengths by the rules as they are written.
"""

import math
import time
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from nesting.layout.free_rectangle import is_upright_rectangle
from nesting.layout.grown import grown_area, shrunk, steiner
from nesting.layout.least_stock import Kind, fewest, least_cost, least_share_cost, most_room
from nesting.layout.score import SAME, Extents, Score
from nesting.layout.sides import without_sides
from nesting.layout.survey import Survey, survey
from nesting.layout.window_bound import saved_at_most
from nesting.model.bound import LARGEST, StockBound
from nesting.model.nest import Demand, SheetJob, SheetNest
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.units import CHECK_SLACK, Mm, Mm2, Seconds

LONGEST_LOOK: Seconds = 0.5
"""How long areas may be measured; then the bound goes without gaps and takes every hole for filled. 1,000 kinds of
part are done before.
"""


@dataclass(frozen=True)
class _Ground:
    """What a kind of sheet offers. Its first x millimetres have room for no more than `slope` x + `credit`."""

    sheet: Sheet
    room: Mm2
    length: Mm
    slope: Mm
    credit: Mm2

    @property
    def kind(self) -> Kind:
        return Kind(self.room, self.sheet.price, math.inf if self.sheet.count is None else float(self.sheet.count))


def sheet_bound(looked_over: Survey) -> StockBound | None:
    """The bound of all that may be laid; None where nothing is to be laid, or all the stock has too little room."""
    job = looked_over.job
    wanted = [demand for demand in job.demands if demand.count]
    strict, forgiven = _grounds(job, 0.0), _grounds(job, CHECK_SLACK)
    if not wanted or not strict:
        return None
    need, hair = _need(job, wanted)
    kinds, roomy = [ground.kind for ground in strict], [ground.kind for ground in forgiven]
    cost, count = least_cost(roomy, need - hair), fewest(roomy, need - hair)
    if cost is None or count is None or cost > LARGEST:
        return None
    cost, count = max(cost, min(kind.price for kind in kinds)), max(count, 1)
    last = max(_last(strict, need, cost), _widest(looked_over, wanted, cost))
    ground = strict[0]
    if all(
        (each.room, each.length, each.sheet.price) == (ground.room, ground.length, ground.sheet.price)
        for each in strict
    ):
        last = min(last, ground.length)
        taken = ground.sheet.price * (count - 1 + last / ground.length)
    else:
        credit = max(ground.credit for ground in strict)
        taken = least_share_cost(kinds, max(0.0, need - credit)) or 0.0
    return StockBound(cost, count, last, min(taken, cost))


def bound_of_job(job: SheetJob) -> StockBound | None:
    """The bound of a job that has not been looked over."""
    return sheet_bound(survey(without_sides(job)))


def is_unbeatable(looked_over: Survey, bound: StockBound | None, score: Score | None) -> bool:
    """Whether the score is as good as any could be: all laid, for the least cost, the last sheet as short as can be."""
    if bound is None or score is None or score.scattered:
        return False
    if score.laid < sum(demand.most for demand in looked_over.job.demands):
        return False
    return score.cost <= bound.cost * (1.0 + SAME) + SAME and score.rest <= bound.last * (1.0 + SAME) + SAME


def left_to_win(nest: SheetNest) -> float | None:
    """The share of the stock it uses that a nest of the same job could save at most, by its bound.

    What is left behind the last part of one sheet counts as not used, on the sheet where that is worth most. None
    where there is no bound or not all is laid, for then less may be laid on less.
    """
    if nest.bound is None or any(each.count for each in nest.unplaced):
        return None
    extents, stock = Extents(nest.job), {sheet.name: sheet for sheet in nest.job.stock}
    rules = nest.job.rules
    before, behind = max(rules.margin, rules.sides.left), max(rules.margin, rules.sides.right)
    cost, saved = 0.0, 0.0
    for layout in nest.layouts:
        sheet = stock[layout.stock]
        cost += layout.copies * sheet.price
        b = sheet.outline.bounds
        # What is behind a part of an odd outline may be narrow, so there it is not counted by its length.
        if is_upright_rectangle(sheet.outline):
            rest = extents.right(layout) - b.left - before
            saved = max(saved, sheet.price * (1.0 - rest / (b.width - before - behind)))
    return max(0.0, 1.0 - nest.bound.taken / (cost - saved)) if cost > saved else 0.0


def _grounds(job: SheetJob, slack: Mm) -> list[_Ground]:
    """What each kind of sheet offers where parts may come so much nearer to its edge than the margin."""
    by, found = job.rules.gap / 2.0, []
    for sheet in job.stock:
        b, margin = sheet.outline.bounds, job.rules.margin - slack
        if is_upright_rectangle(sheet.outline):
            length, height = b.width - 2.0 * margin, b.height - 2.0 * margin
            room = steiner(length * height, 2.0 * (length + height), by)
        else:
            places = [each for each in shapely.get_parts(shrunk(sheet.outline, margin)) if isinstance(each, Polygon)]
            left, bottom, right, top = shapely.total_bounds(places) if places else (0.0, 0.0, 0.0, 0.0)
            length, height = float(right - left), float(top - bottom)
            room = math.fsum(steiner(place.area, place.length, by) for place in places)
        if length > 0.0 and height > 0.0:
            slope, credit = height + 2.0 * by, steiner(0.0, 2.0 * height, by)
            found.append(_Ground(sheet, room, length, slope, credit))
    return found


def _need(job: SheetJob, wanted: list[Demand[SheetPart]]) -> tuple[Mm2, Mm2]:
    """The room that all parts need, and how much less of it the checker is content with."""
    gap = job.rules.gap
    until = time.monotonic() + LONGEST_LOOK

    def is_over() -> bool:
        return time.monotonic() > until

    hair = 0.5 * CHECK_SLACK * math.fsum(d.count * (d.part.outer.length + math.pi * gap) for d in wanted)
    net = math.fsum(demand.count * demand.part.area for demand in wanted)
    grown = {}
    for demand in wanted:
        if is_over():
            return net, hair
        grown[demand.part.name] = grown_area(demand.part.outer, gap / 2.0)
    saved = saved_at_most(job, grown, is_over)
    if saved is None:
        return net, hair
    return max(net, math.fsum(d.count * grown[d.part.name] for d in wanted) - saved), hair


def _last(grounds: list[_Ground], need: Mm2, cost: float) -> Mm:
    """What is taken up at least of each sheet of a nest that costs no more than `cost`."""
    lengths = []
    for ground in grounds:
        if ground.sheet.price > cost * (1.0 + SAME):
            continue
        others = [
            Kind(each.room, each.sheet.price, each.kind.count - (1.0 if each is ground else 0.0)) for each in grounds
        ]
        left = need - most_room(others, max(0.0, cost - ground.sheet.price))
        lengths.append(max(0.0, (left - ground.credit) / ground.slope))
    return min(lengths, default=0.0)


def _widest(looked_over: Survey, wanted: list[Demand[SheetPart]], cost: float) -> Mm:
    """The width of the narrowest part, which lies on any sheet; of the widest where all must lie on one."""
    widths = []
    for demand in wanted:
        if looked_over.job.turns_of(demand) == "any":
            # What has an area and spans no more than the diagonal of its bounds is no narrower than this.
            b = demand.part.bounds
            widths.append(demand.part.outer.area / math.hypot(b.width, b.height))
        else:
            widths.append(min(form.width for form in looked_over.forms[demand.part.name]))
    is_single = cost < 2.0 * min(sheet.price for sheet in looked_over.job.stock) * (1.0 - SAME)
    return max(widths) if is_single else min(widths)
