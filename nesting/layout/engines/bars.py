"""Lays pieces on bars with the cutting-stock solver, in whole hundredths of a millimetre, and says what it has proven.

A piece is rounded up and a bar down to the next hundredth, so what fits in the solver fits in the shop. `most` among
the request's options says what is wanted where bars are short: then as many pieces as possible are laid. The answer
has `bound` beside the usual: no way to lay all pieces costs less, or None where that is not known.
"""

import importlib
import math
import random
from typing import Any

from nesting.errors import BadValue
from nesting.layout.bar_order import BarOrder
from nesting.layout.engine import Report, bars_to_record
from nesting.layout.engines.first_fit import room_on
from nesting.layout.joints import Joints
from nesting.model.nest import BarJob, BarLayout
from nesting.records.jobs import job_from_record
from nesting.records.values import Record, flag, number, whole_number
from nesting.units import Mm

library: Any = importlib.import_module("packingsolver.onedimensional")
"""Bindings without type stubs, so imported past the type checker."""

PER_MM = 100
"""Units of the solver in a millimetre."""

SAME_UNIT = 1e-6
"""Share of a unit that is float noise: 1234.5 mm is 123450 units, not 123451."""


def up(length: Mm) -> int:
    return math.ceil(length * PER_MM - SAME_UNIT)


def down(length: Mm) -> int:
    return math.floor(length * PER_MM + SAME_UNIT)


def is_whole(length: Mm) -> bool:
    return up(length) == down(length)


def solve_record(request: Record, report: Report) -> Record:
    """The engine's call; `nesting.layout.engine` describes request and answer."""
    job = job_from_record(request["job"])
    if not isinstance(job, BarJob):
        raise BadValue("bars: a bar job is needed.")
    wants_most = flag(request, "most", "request")
    demands = list(job.demands)
    seed = whole_number(request, "seed", "request")
    if seed:
        # The solver has no seed; the order of its item types is what decides between equals.
        random.Random(seed).shuffle(demands)  # noqa: S311 - not for secrets
    extra_gap = number(request, "extra_gap_mm", "request", 0.0)
    gap = job.rules.gap + extra_gap
    builder = library.InstanceBuilder()
    builder.set_objective(_objective(job, wants_most=wants_most))
    cheapest = min((bar.price for bar in job.stock if bar.price > 0), default=1.0)
    for bar in job.stock:
        # As if a gap came behind each piece, the last one too; a cost of 0 is not taken.
        builder.add_bin_type(
            down(room_on(bar, job) + gap),
            cost=max(bar.price, cheapest * 1e-6),
            copies=-1 if bar.count is None else bar.count,
        )
    for demand in demands:
        worth = {"profit": 1.0} if wants_most else {}
        builder.add_item_type(up(demand.part.length + gap), copies=demand.count, **worth)
    settings = library.OptimizeParameters()
    settings.time_limit = number(request, "seconds", "request")
    settings.verbosity_level = 0
    settings.messages_to_stdout = False
    names = [demand.part.name for demand in demands]
    order = BarOrder(job, Joints(job))

    def layouts(solution: Any) -> list[BarLayout]:
        found = []
        for i in range(solution.number_of_different_bins()):
            packed = solution.bin(i)
            pieces = [names[each.item_type_id] for each in packed.items]
            if pieces:
                found.append(order.lay(job.stock[packed.bin_type_id], pieces, packed.copies))
        return found

    settings.new_solution_callback = lambda output: report(bars_to_record(layouts(output.solution)))
    output = library.optimize(builder.build(), settings)
    answer = bars_to_record(layouts(output.solution), finished=output.is_proven_optimal())
    return answer | {"bound": None if wants_most or extra_gap else _bound(job, output)}


def _objective(job: BarJob, *, wants_most: bool) -> Any:
    if wants_most:
        return library.Objective.Knapsack
    return library.Objective.BinPacking if len(job.stock) == 1 else library.Objective.VariableSizedBinPacking


def _bound(job: BarJob, output: Any) -> float | None:
    """The solver's lower bound of the cost, where its problem was the shop's: nothing rounded, no cost changed."""
    gap = job.rules.gap
    lengths = [room_on(bar, job) + gap for bar in job.stock] + [d.part.length + gap for d in job.demands]
    if not all(is_whole(length) for length in lengths) or min(bar.price for bar in job.stock) <= 0:
        return None
    if len(job.stock) == 1:
        return float(output.bin_packing_bound) * job.stock[0].price
    return float(output.variable_sized_bin_packing_bound)
