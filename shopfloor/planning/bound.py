"""What is known of how little stock any nest of the same pieces can do with, in the form that a nest's row keeps."""

from typing import Any

from nesting import route
from nesting.model.nest import Nest as NestNoun
from nesting.model.nest import SheetNest


def bound_facts(answer: NestNoun) -> dict[str, Any] | None:
    """{count, full_count, last_mm, left_share} or None where nothing is known.

    Where all stock is of one size, no nest takes fewer than `count` sheets or bars, and of sheets none takes less than
    `full_count` and `last_mm` of the length of another; what does not hold is None. `left_share` is the share of its
    stock, by price, that the nest could save at most, None where it leaves pieces out.
    """
    if answer.bound is None:
        return None
    if isinstance(answer, SheetNest):
        one_size = len({sheet.outline for sheet in answer.job.stock}) == 1
    else:
        one_size = len({bar.length for bar in answer.job.stock}) == 1
    has_last = one_size and isinstance(answer, SheetNest)
    return {
        "count": answer.bound.count if one_size else None,
        "full_count": answer.bound.count - 1 if has_last else None,
        "last_mm": answer.bound.last if has_last else None,
        "left_share": route.left_to_win(answer),
    }
