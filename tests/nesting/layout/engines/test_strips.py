"""The strip library as an engine: what it answers is measured again with shapely."""

import math

import pytest
import shapely
from shapely import affinity
from shapely.geometry import Polygon

from nesting.layout.engine import CHILD_MEMORY_MB
from nesting.sandbox import Limits, run_in_child

pytestmark = pytest.mark.slow


def ask(items, *, height, gap=0.0, seconds=3.0, target=None):
    request = {
        "items": [{"ring": ring, "count": count, "turns_deg": [0.0, 90.0]} for ring, count in items],
        "height_mm": height,
        "gap_mm": gap,
        "target_mm": target,
        "decide_s": seconds,
        "seconds": seconds,
        "seed": 1,
        "workers": 1,
    }
    reports = []
    # In a child as always: the library's thread may outlive the call, and must not be there when Python ends.
    call = "nesting.layout.engines.strips:strip_record"
    answer = run_in_child(call, request, Limits(wall=120.0, memory_mb=CHILD_MEMORY_MB), on_progress=reports.append)
    return answer, reports


def shapes(items, answer):
    rings = [Polygon(ring) for ring, _ in items]
    return [
        affinity.translate(affinity.rotate(rings[index], turn, origin=(0.0, 0.0)), x, y)
        for index, x, y, turn in answer["places"]
    ]


ITEMS = [
    ([[0.0, 0.0], [300.0, 0.0], [300.0, 100.0], [0.0, 100.0]], 6),
    ([[0.0, 0.0], [150.0, 0.0], [0.0, 120.0]], 8),
]
TOLERANCE = 2e-3
"""What the checker forgives too."""


@pytest.mark.parametrize("gap", [0.0, 5.0])
def test_all_lie_on_the_strip_and_keep_the_gap(gap):
    answer, reports = ask(ITEMS, height=400.0, gap=gap)
    laid = shapes(ITEMS, answer)
    assert len(laid) == 14
    left, bottom, right, top = shapely.total_bounds(laid)
    assert min(left, bottom) >= -TOLERANCE
    assert top <= 400.0 + TOLERANCE
    assert right <= answer["width_mm"] + TOLERANCE
    assert math.fsum(each.area for each in laid) <= 400.0 * answer["width_mm"]
    for i, a in enumerate(laid):
        for b in laid[:i]:
            assert a.distance(b) >= gap - TOLERANCE
            assert a.intersection(b).area <= 1.0
    widths = [*(each["width_mm"] for each in reports), answer["width_mm"]]
    assert widths == sorted(widths, reverse=True)


def test_it_ends_when_the_strip_is_short_enough():
    # The time limit is a minute; the test does not wait that long for a goal that any layout meets.
    answer, _ = ask(ITEMS, height=400.0, gap=5.0, seconds=60.0, target=5000.0)
    assert answer["reached"]
    assert answer["width_mm"] <= 5000.0
