"""How many pieces of a nest lie in room that was left over."""

from collections import Counter

from nesting.model.nest import Nest, SheetNest


def filled_count(nest: Nest) -> int:
    """How many pieces are laid beyond those wanted; none on bars."""
    if not isinstance(nest, SheetNest):
        return 0
    laid: Counter[str] = Counter()
    for layout in nest.layouts:
        for placement in layout.placements:
            laid[placement.part] += layout.copies
    return sum(max(0, laid[demand.part.name] - demand.count) for demand in nest.job.demands)
