"""Parts in windows: the gap to the window's edge and between them is measured again with shapely."""

from collections import Counter

import pytest
import shapely
from shapely import affinity
from shapely.geometry import Polygon

from nesting.layout.engines.windows import fill_record, fillings_from_record, fillings_to_record, windows_of
from nesting.records.jobs import job_to_record
from nesting.units import CHORD
from tests.shop_parts import flange, frame, rectangle, sheet_job, square


def fill(job, seconds=3.0):
    return fillings_from_record(
        fill_record({"job": job_to_record(job), "seconds": seconds, "extra_gap_mm": 0.0}, lambda _: None)
    )


def test_only_holes_that_could_take_a_part_are_windows():
    job = sheet_job((frame("f", 300.0, 200.0, 30.0), 2), (flange("r", 100.0, 20.0), 4), (square("s", 60.0), 9))
    assert [(window.host.part.name, window.hole) for window in windows_of(job)] == [("f", 0)]
    assert windows_of(sheet_job((frame("f", 300.0, 200.0, 30.0), 2))) == []


def test_the_gap_to_the_edge_counts():
    # A window of 100 mm takes a part of 90 mm with a gap of 5 mm, by the diagonal at least; one of 240 mm never.
    job = sheet_job((frame("f", 160.0, 160.0, 30.0), 2), (rectangle("long", 240.0, 10.0), 9))
    assert windows_of(job) == []


@pytest.mark.slow
def test_a_window_is_filled_with_the_gap_all_round_and_no_more_than_there_is():
    job = sheet_job((frame("f", 400.0, 300.0, 30.0), 3), (square("s", 70.0), 20), (rectangle("r", 120.0, 40.0), 5))
    fillings = fill(job, 20.0)
    assert fillings, "an empty window of 340 x 240 mm takes at least one square of 70 mm"
    parts = {demand.part.name: Polygon(demand.part.outer.polygon(CHORD, "on")) for demand in job.demands}
    hole = shapely.box(30.0, 30.0, 370.0, 270.0)
    used = Counter()
    for filling in fillings:
        assert (filling.host, filling.hole) == ("f", 0)
        shapes = [
            affinity.translate(affinity.rotate(parts[p.part], p.turn, origin=(0.0, 0.0)), p.x, p.y)
            for p in filling.placements
        ]
        for i, a in enumerate(shapes):
            assert hole.contains(a)
            assert hole.exterior.distance(a) >= 5.0 - 2e-3
            assert all(a.distance(b) >= 5.0 - 2e-3 for b in shapes[:i])
        for p in filling.placements:
            used[p.part] += filling.count
    assert sum(filling.count for filling in fillings) <= 3
    assert used["s"] <= 20
    assert used["r"] <= 5


@pytest.mark.slow
def test_fillings_come_back_from_their_record():
    fillings = fill(sheet_job((frame("f", 300.0, 300.0, 30.0), 1), (square("s", 70.0), 4)), 20.0)
    assert fillings_from_record(fillings_to_record(fillings)) == fillings
