"""What windows can save, held to what is counted by hand."""

import math

import pytest
from shapely.geometry import Polygon

from nesting.layout.grown import grown_area
from nesting.layout.window_bound import least_width, saved_at_most
from tests.shop_parts import flange, frame, plate, rectangle, sheet_job, square


def never():
    return False


def saved(job, is_over=never):
    grown = {d.part.name: grown_area(d.part.outer, job.rules.gap / 2.0) for d in job.demands}
    return saved_at_most(job, grown, is_over)


def test_bolt_holes_that_hold_nothing_save_nothing():
    assert saved(sheet_job((plate("base", 180.0, 120.0), 20))) == 0.0


def test_a_window_saves_what_it_holds_and_no_more_than_there_is():
    # Source: by hand: the cover, grown by 2.5, takes 240^2 + 960 x 2.5 and a circle of 2.5.
    cover = 57600.0 + 2400.0 + math.pi * 6.25
    assert saved(sheet_job((frame("frame", 400.0, 400.0, 40.0), 3), (square("cover", 240.0), 1))) == pytest.approx(
        cover
    )
    # Three covers find three windows; of nine no window takes a second one, by area.
    assert saved(sheet_job((frame("frame", 400.0, 400.0, 40.0), 3), (square("cover", 240.0), 9))) == pytest.approx(
        3.0 * cover, rel=1e-3
    )


def test_many_small_parts_save_at_most_the_window_less_half_a_gap_all_round():
    found = saved(sheet_job((frame("frame", 400.0, 400.0, 40.0), 1), (square("tile", 30.0), 500)))
    assert found == pytest.approx(315.0**2, rel=1e-4)


@pytest.mark.parametrize(("size", "holds"), [((310.0, 200.0), True), ((311.0, 20.0), False), ((200.0, 310.0), True)])
def test_by_quarter_turns_a_part_must_be_no_longer_than_the_window_less_two_gaps(size, holds):
    job = sheet_job((frame("frame", 400.0, 400.0, 40.0), 1), (rectangle("strip", *size), 1))
    assert (saved(job) > 0.0) == holds


def test_turned_freely_a_strip_may_lie_across():
    parts = (frame("frame", 400.0, 400.0, 40.0), 1), (rectangle("strip", 400.0, 20.0), 1)
    assert saved(sheet_job(*parts)) == 0.0
    assert saved(sheet_job(*parts, turns="any")) > 0.0


def test_a_part_as_large_as_the_hole_goes_in_where_there_is_no_gap():
    parts = (frame("frame", 400.0, 400.0, 40.0), 1), (square("plug", 320.0), 1)
    assert saved(sheet_job(*parts, gap=0.0)) == pytest.approx(320.0**2)
    assert saved(sheet_job(*parts, gap=0.1)) == 0.0


def test_rings_in_rings_save_each_its_own_room():
    rings = [(flange("large", 300.0, 200.0, bolts=0), 1), (flange("middle", 180.0, 90.0, bolts=0), 1)]
    job = sheet_job(*rings, (flange("small", 70.0, 20.0, bolts=0), 1))
    assert saved(job) == pytest.approx(math.pi * (92.5**2 + 37.5**2), rel=1e-4)


def test_without_time_nothing_is_said():
    assert saved(sheet_job((frame("frame", 400.0, 400.0, 40.0), 1), (square("cover", 200.0), 1)), lambda: True) is None


def test_the_least_width_of_a_slanted_rectangle_is_its_shorter_side():
    c, s = math.cos(0.3), math.sin(0.3)
    corners = [(x * c - y * s, x * s + y * c) for x, y in [(0, 0), (90, 0), (90, 40), (0, 40)]]
    assert least_width(Polygon(corners)) == pytest.approx(40.0)
