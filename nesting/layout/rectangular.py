"""Which jobs are of rectangles alone, so that the engine of rectangles is for them."""

from nesting.model.nest import Demand, SheetJob
from nesting.model.part import SheetPart
from nesting.units import Deg

FILLS = 0.97
"""The share of its bounds from which on a part counts as a rectangle, such as a plate with round corners."""


def are_rectangles(job: SheetJob) -> bool:
    """Whether all parts nearly fill their bounds, may lie at quarter turns, and no hole could take one of them."""
    wanted = [demand for demand in job.demands if demand.count]
    for demand in wanted:
        bounds = demand.part.bounds
        if demand.part.outer.area < FILLS * bounds.width * bounds.height or not upright_turns(job, demand):
            return False
    least = min((min(d.part.bounds.width, d.part.bounds.height) for d in wanted), default=0.0) + 2.0 * job.rules.gap
    holes = [hole.bounds for demand in wanted for hole in demand.part.holes]
    return bool(wanted) and not any(min(hole.width, hole.height) >= least for hole in holes)


def upright_turns(job: SheetJob, demand: Demand[SheetPart]) -> list[Deg]:
    """The turns of a part at which its bounds as drawn stay upright."""
    turns = job.turns_of(demand)
    allowed: tuple[Deg, ...] = (0.0, 90.0) if turns == "any" else turns
    return [turn for turn in allowed if turn % 90.0 == 0.0]
