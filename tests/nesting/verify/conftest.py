"""Nests as the real engines lay them, for planting faults in."""

from dataclasses import replace

import pytest

from nesting import route
from nesting.model.nest import Demand
from nesting.model.stock import Sheet
from tests.shop_parts import angle, bar_job, flange, frame, link, plate, sheet_job, square


def laid_whole(job):
    """The first nest in which everything is laid: how fast the machine is says nothing about what is in it."""
    seen = []
    nest = route.lay_out(
        job, budget=120.0, seed=7, on_progress=seen.append, should_stop=lambda: bool(seen) and not seen[-1].unplaced
    )
    assert not nest.unplaced
    assert route.check_nest(nest) == ()
    return nest


@pytest.fixture(scope="session")
def sheet_nest():
    """Forty-odd parts of six kinds on two sizes of sheet, one kind bound to the grain."""
    job = sheet_job(
        (plate("cover", 180.0, 120.0), 9),
        (flange("flange", 120.0, 50.0), 8),
        (link("link", 160.0, 36.0), 8),
        (frame("window", 260.0, 200.0, 30.0), 3),
        (square("spacer", 45.0), 10),
        stock=[Sheet.rectangle("1000x500", 1000.0, 500.0, 3), Sheet.rectangle("800x400", 800.0, 400.0, 2)],
    )
    grained = Demand(angle("panel", 150.0, 210.0, 50.0), 5, (0.0, 180.0))
    return laid_whole(replace(job, demands=(*job.demands, grained)))


@pytest.fixture(scope="session")
def full_hole_nest():
    """A ring-shaped plate that fills its only sheet, so that the squares can lie in its window and nowhere else."""
    job = sheet_job(
        (frame("frame", 980.0, 480.0, 40.0), 1),
        (square("inside", 90.0), 6),
        stock=[Sheet.rectangle("1000x500", 1000.0, 500.0, 1)],
    )
    return laid_whole(job)


@pytest.fixture(scope="session")
def bar_nest():
    """Four lengths on bars of two lengths, with gap, trimmed front and chuck."""
    return laid_whole(
        bar_job(
            *((1490.0, 7), (980.0, 9), (645.5, 6), (310.25, 8)),
            stock=[(6000.0, 6), (3100.0, 3)],
            gap=4.0,
            dead_end=250.0,
            lead_end=15.0,
        )
    )
