"""What is known of how little stock any nest of the same pieces can do with, in the form that a nest's row keeps."""

from typing import Any

from nesting import route
from nesting.model.nest import Nest as NestNoun
from nesting.model.nest import SheetNest


def bound_facts(answer: NestNoun) -> dict[str, Any] | None:
    """{count, full_count, last_mm, left_share} or None where nothing is known.

    No nest takes fewer than `count` sheets or bars. Where there is one size of sheet, none takes less than `full_count`
    of them and `last_mm` of the length of another; else both are None. `left_share` is the share of its stock that the
    nest could save at most, None where it leaves pieces out.
    """
    if answer.bound is None:
        return None
    has_last = isinstance(answer, SheetNest) and len({sheet.outline for sheet in answer.job.stock}) == 1
    return {
        "count": answer.bound.count,
        "full_count": answer.bound.count - 1 if has_last else None,
        "last_mm": answer.bound.last if has_last else None,
        "left_share": route.left_to_win(answer),
    }
