"""Random sheet jobs, sound and unsound: each ends within its time in a nest that keeps its rules, or one sentence.

By default 24 jobs are tried; TEST_TIMES=85 tries some 2,000, for half an hour.
"""

import math
import os
import time
from collections import Counter
from contextlib import suppress
from datetime import date

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from nesting.errors import BadValue
from nesting.geometry.contour import Contour
from nesting.model.nest import Demand, SheetJob, SheetRules, Sides
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.route import check_nest, lay_out
from tests.shop_parts import L_REMNANT

TIMES = 24 * int(os.environ.get("TEST_TIMES", "1"))

BUDGET = 0.4

HANGS = BUDGET + 60.0
"""Only what never ends takes so long, on however slow a machine."""

sizes = st.one_of(st.floats(20.0, 400.0), st.sampled_from([0.5, 3.0, 50.0, 100.0, 980.0, 480.0, 2500.0, 1e6]))


def star(corners, outer, inner):
    """A ring that touches itself nowhere, with as many corners as wanted."""
    points = []
    for k in range(corners):
        reach, angle = (outer if k % 2 else inner), 2.0 * math.pi * k / corners
        points.append((reach * math.cos(angle), reach * math.sin(angle), 0.0))
    return Contour(tuple(points))


@st.composite
def outlines(draw):
    kind = draw(st.sampled_from(["rectangle", "circle", "star", "arm", "crossing", "flat", "far", "many corners"]))
    a, b = draw(sizes), draw(sizes)
    match kind:
        case "circle":
            return Contour.circle(0.0, 0.0, a / 2.0)
        case "star":
            return star(2 * draw(st.integers(3, 9)), a / 2.0, a * draw(st.floats(0.1, 0.45)))
        case "arm":
            w = min(a, b) * draw(st.floats(0.1, 0.4))
            corners = [(0, 0), (a, 0), (a, w), (w, w), (w, b), (0, b)]
            return Contour(tuple((x, y, 0.0) for x, y in corners))
        case "crossing":
            return Contour(((0, 0, 0.0), (a, b, 0.0), (a, 0, 0.0), (0, b * 1.5, 0.0)))
        case "flat":
            return Contour.rectangle(a, 1e-6)
        case "far":
            return Contour.rectangle(a, b, 1e6, -1e6)
        case "many corners":
            return star(1000, a / 2.0, a / 2.0 * 0.97)
    return Contour.rectangle(a, b)


@st.composite
def parts(draw, name):
    outer = draw(outlines())
    holes = []
    if draw(st.booleans()):
        b = outer.bounds
        at = draw(st.sampled_from([(0.5, 0.5), (0.5, 0.5), (1.2, 0.5), (1.0, 1.0)]))
        radius = draw(st.floats(0.05, 0.4)) * min(b.width, b.height)
        holes.append(Contour.circle(b.left + at[0] * b.width, b.bottom + at[1] * b.height, radius))
    return SheetPart(name, outer, tuple(holes))


turns = st.sampled_from([(0.0,), (0.0, 180.0), (0.0, 90.0, 180.0, 270.0), (0.0, 37.0), "any"])


@st.composite
def jobs(draw):
    stock = []
    for i in range(draw(st.integers(0, 3))):
        count, cost = draw(st.sampled_from([None, 0, 1, 3])), draw(st.sampled_from([None, None, 0.0, 1.0, 1e7]))
        if draw(st.integers(0, 3)) == 0:
            stock.append(Sheet(f"sheet {i}", L_REMNANT, count, cost, is_remnant=True))
        else:
            width, height = draw(st.sampled_from([(1000.0, 500.0), (500.0, 500.0), (60.0, 40.0), (3000.0, 1500.0)]))
            stock.append(Sheet.rectangle(f"sheet {i}", width, height, count, cost))
    rules = SheetRules(
        draw(st.sampled_from([0.0, 1.0, 5.0, 20.0, 700.0])),
        draw(st.sampled_from([0.0, 5.0, 10.0, 400.0])),
        draw(turns),
        draw(st.booleans()),
        Sides(*(draw(st.sampled_from([0.0, 0.0, 0.0, 60.0])) for _ in range(4))),
        draw(st.sampled_from([None, None, 1, 2])),
        draw(st.booleans()),
    )
    demands = []
    for i in range(draw(st.integers(0, 4))):
        count = draw(st.sampled_from([0, 1, 2, 5, 12, 40]))
        demands.append(
            Demand(
                draw(parts(f"part {i}")),
                count,
                draw(st.one_of(st.none(), turns)),
                draw(st.sampled_from([None, date(2027, 3, 1), date(2027, 3, 5)])),
                draw(st.sampled_from(["", "gate", "trailer"])),
                draw(st.sampled_from([None, None, count + 3])),
            )
        )
    return SheetJob(tuple(stock), rules, tuple(demands))


@settings(
    max_examples=TIMES,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.reuse, Phase.generate],  # making a failure smaller takes many minutes
)
@given(st.data())
def test_every_job_ends_in_a_nest_that_keeps_its_rules(data):
    job = None
    with suppress(BadValue):
        job = data.draw(jobs())
    if job is None:
        return  # refused with a sentence before there was a job
    started_at = time.monotonic()
    nest = lay_out(job, budget=BUDGET, seed=1)
    assert time.monotonic() - started_at < HANGS
    assert check_nest(nest) == ()
    laid = Counter()
    for layout in nest.layouts:
        for p in layout.placements:
            laid[p.part] += layout.copies
    left = {row.part: row for row in nest.unplaced}
    for demand in job.demands:
        name = demand.part.name
        assert laid[name] <= demand.most
        assert laid[name] >= demand.count or left[name].count == demand.count - laid[name]
    assert all(row.reason for row in nest.unplaced)
