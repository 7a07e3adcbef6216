"""Which of many shapes come near each other: pairs by their bounds, in bites, and never more than can be worked off.

A drawing can be built so that everything lies near everything; then the count of pairs has no sensible limit, and the
reading stops with a sentence instead of filling the memory.
"""

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.drawing.refusals import StopReading, refusal
from nesting.units import Mm

MOST_PAIRS = 4_000_000
"""Pairs looked at in one drawing. A line has two neighbours and crosses the bounds of a few others: 500 000 lines of
real drawings make under 2 million pairs."""

BITE = 256
"""Shapes asked for their neighbours at once: few enough that even all against all fits the memory."""

type Indexes = NDArray[np.intp]


def near_pairs(bounds: NDArray[np.float64], reach: Mm) -> Iterator[tuple[Indexes, Indexes]]:
    """Pairs (i, j) with i < j whose bounds (n, 4: left, bottom, right, top) come within `reach`, in arrays.

    Raises:
        StopReading: there are more than `MOST_PAIRS`.
    """
    if len(bounds) < 2:
        return
    boxes = shapely.box(bounds[:, 0], bounds[:, 1], bounds[:, 2], bounds[:, 3])
    tree = shapely.STRtree(boxes)
    wide = shapely.box(bounds[:, 0] - reach, bounds[:, 1] - reach, bounds[:, 2] + reach, bounds[:, 3] + reach)
    seen = 0
    for start in range(0, len(bounds), BITE):
        asked, met = tree.query(wide[start : start + BITE])
        asked = asked + start
        keep = asked < met
        seen += len(asked)
        if seen > MOST_PAIRS:
            raise too_crowded()
        if keep.any():
            yield asked[keep], met[keep]


def too_crowded() -> StopReading:
    message = (
        "Too many lines lie across or over each other to tell the contours apart. "
        "Delete what is not to be cut and upload it again."
    )
    return StopReading(refusal("too-crowded", message))
