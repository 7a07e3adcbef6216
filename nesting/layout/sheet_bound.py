"""Says when a sheet nest cannot be bettered, from areas and widths alone: then the rest of the time is given back."""

import math

from nesting.layout.score import SAME, Score
from nesting.layout.survey import Survey


def is_unbeatable(looked_over: Survey, score: Score | None) -> bool:
    """Whether the score is as good as any could be: all laid, on the fewest and cheapest sheets, the last as short as
    the area of the parts and their widths allow.

    The bound counts net areas, without gaps, on sheets taken as the largest of all kinds, so it is never too high.
    With free turning nothing is said.
    """
    job = looked_over.job
    demands = job.demands
    if score is None or not demands or score.laid < sum(demand.count for demand in demands):
        return False
    if any(job.turns_of(demand) == "any" for demand in demands):
        return False
    margin = job.rules.margin
    bounds = [sheet.outline.bounds for sheet in job.stock]
    length = max(b.width for b in bounds) - 2.0 * margin
    height = max(b.height for b in bounds) - 2.0 * margin
    if length <= 0 or height <= 0:
        return False
    net = math.fsum(demand.part.area * demand.count for demand in demands)
    sheets = max(1, math.ceil(net / (length * height) * (1.0 - SAME)))
    if score.cost > sheets * min(sheet.price for sheet in job.stock) * (1.0 + SAME):
        return False
    narrowest = [min(form.width for form in looked_over.forms[demand.part.name]) for demand in demands]
    shortest = max((net - (sheets - 1) * length * height) / height, max(narrowest) if sheets == 1 else min(narrowest))
    return score.rest <= shortest * (1.0 + SAME) + SAME
