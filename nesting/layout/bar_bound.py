"""What no bar nest can do without, as a number of bars, from what is known of the cost."""

import math
from collections.abc import Sequence

from nesting.layout.score import SAME, score_bars
from nesting.model.bound import LARGEST, StockBound
from nesting.model.nest import BarJob, BarNest


def bar_bound(job: BarJob, costs: Sequence[float]) -> StockBound | None:
    """The bound of a job that costs no less than any of `costs`; None where nothing is to be laid or known.

    Bars are counted whole: `last` is 0 and `taken` is the cost.
    """
    cost = max(costs, default=0.0)
    dearest = max((bar.price for bar in job.stock), default=0.0)
    if not any(demand.count for demand in job.demands) or not 0.0 < cost <= LARGEST or dearest <= 0.0:
        return None
    return StockBound(cost, max(1, math.ceil(cost / dearest * (1.0 - SAME))), 0.0, cost)


def left_to_win(nest: BarNest) -> float | None:
    """The share of its cost that a nest of the same job could save at most; None without a bound or where not all is
    laid, for then less may be laid for less.
    """
    if nest.bound is None or any(each.count for each in nest.unplaced):
        return None
    cost = score_bars(nest).cost
    return max(0.0, 1.0 - nest.bound.cost / cost) if cost > 0.0 else 0.0
