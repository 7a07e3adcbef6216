"""Cutting times against closed forms that are worked out by hand from the model in the module's first paragraph."""

import math
from dataclasses import replace

import pytest

from nesting.errors import BadValue
from nesting.geometry.contour import Contour, Path
from nesting.model.cut_time import CutSpeeds, cut_time
from nesting.model.motion import move_time
from nesting.model.part import SheetPart, TubePart
from nesting.model.section import Section
from nesting.model.tube_cuts import CutOut, CutOutKind, EndCut, EndKind

FEED = 50.0
"""mm/s"""

SPEEDS = CutSpeeds(feed=60 * FEED, pierce=0.4, rapid=60_000, acceleration=5000, turn=360)
NO_INERTIA = replace(SPEEDS, acceleration=1e15)


def tube(section, length=300.0, cut_outs=(), ends=None):
    paths = [Path(((x, 0.0, 0.0), (x, section.girth, 0.0))) for x in (0.0, length)]
    ends = ends or tuple(EndCut(EndKind.SQUARE, path) for path in paths)
    return TubePart("leg", section, length, len(cut_outs), ends=ends, cut_outs=tuple(cut_outs))


def opening(contour):
    bounds = contour.bounds
    x, s = (bounds.left + bounds.right) / 2, (bounds.bottom + bounds.top) / 2
    return CutOut(CutOutKind.FREE, "top", x, s, 0.0, 90.0, bounds.width, bounds.height, (contour,))


def one_cut(section, speeds, length=300.0):
    """The time of one of two equal square ends: the rest is two pierces and the way along the tube."""
    rest = 2 * speeds.pierce + move_time(length, speeds.rapid / 60, speeds.acceleration)
    return (cut_time(tube(section, length), speeds) - rest) / 2


def test_without_inertia_a_round_tube_takes_its_girth_at_the_slower_of_feed_and_chuck():
    # Source: by hand. At 360°/s the surface of a 10 mm tube runs at 31.4 mm/s, that of a 48.3 mm one at 151.7 mm/s.
    assert one_cut(Section.round(10, 1), NO_INERTIA) == pytest.approx(1.0, rel=1e-9)
    assert one_cut(Section.round(48.3, 3), NO_INERTIA) == pytest.approx(math.pi * 48.3 / FEED, rel=1e-9)


def test_a_round_tube_with_inertia_is_one_trapezoid():
    girth = math.pi * 48.3
    assert one_cut(Section.round(48.3, 3), SPEEDS) == pytest.approx(girth / FEED + FEED / 5000, rel=1e-12)
    # Source: by hand; 720°/s² at a radius of 24.15 mm is 303.5 mm/s² at the surface.
    slow = replace(SPEEDS, turn_acceleration=720.0)
    at_surface = math.radians(720.0) * 24.15
    assert one_cut(Section.round(48.3, 3), slow) == pytest.approx(girth / FEED + FEED / at_surface, rel=1e-12)


def test_without_inertia_the_corners_of_a_square_tube_take_what_the_chuck_takes():
    # Source: by hand; 40 x 40 with 6 mm corners has sides of 28 mm. Round a corner the surface may run at
    # 6 mm x 2 pi /s = 37.7 mm/s, so a quarter turn takes a quarter of a second however small the radius.
    assert one_cut(Section.box(40, 40, 3, 6), NO_INERTIA) == pytest.approx(4 * 28 / FEED + 4 * 0.25, rel=1e-9)
    assert one_cut(Section.box(40, 40, 3, 3), NO_INERTIA) == pytest.approx(4 * 34 / FEED + 4 * 0.25, rel=1e-9)
    assert one_cut(Section.box(40, 40, 3, 0), NO_INERTIA) == pytest.approx(4 * 40 / FEED + 4 * 0.25, rel=1e-9)
    # A corner that is wide enough runs at the feed: 12 mm at 4.17 rad/s is under the chuck's 6.28 rad/s.
    wide = Section.box(60, 60, 5, 12)
    assert one_cut(wide, NO_INERTIA) == pytest.approx((4 * 36 + 24 * math.pi) / FEED, rel=1e-9)


def test_a_square_tube_with_inertia_stops_at_both_ends_of_every_corner():
    # Source: by hand. The middles of the corners are off = 14 sqrt 2 = 19.8 mm from the axis; the tube may turn at
    # sqrt(a / (sqrt 2 off)) = 13.4 rad/s, so the chuck's 6.28 rad/s count, and speed up at 178.6 rad/s².
    up = 5000 / (math.sqrt(2) * 14 * math.sqrt(2))
    corner = math.pi / 2 / (2 * math.pi) + 2 * math.pi / up
    # A way of 9.42 mm: both trapezoids fit. The round begins and ends in the middle of a side.
    half, side = 14 / FEED + FEED / 5000, 28 / FEED + FEED / 5000
    seam = half * 2
    assert one_cut(Section.box(40, 40, 3, 6), SPEEDS) == pytest.approx(3 * side + seam + 4 * corner, rel=1e-9)
    assert one_cut(Section.box(40, 40, 3, 0), SPEEDS) == pytest.approx(
        3 * (40 / FEED + 0.01)
        + 2 * (20 / FEED + 0.01)
        + 4 * (0.25 + 2 * math.pi * (math.sqrt(2) * 20 * math.sqrt(2)) / 5000),
        rel=1e-9,
    )


def test_an_oval_turns_its_half_circles_in_one_go():
    # Source: by hand. 60 x 30: two flats of 30 mm, two half circles of 15 mm radius whose middles are 15 mm off.
    up = 5000 / (math.sqrt(2) * 15)
    turn = min(math.sqrt(up), 2 * math.pi, FEED / 15)
    half_circle = math.pi / turn + turn / up
    flats = 30 / FEED + 0.01 + 2 * (15 / FEED + 0.01)
    assert one_cut(Section.oval(60, 30, 2), SPEEDS) == pytest.approx(flats + 2 * half_circle, rel=1e-9)


def test_a_cut_at_an_angle_over_a_corner_turns_the_tube_for_its_share_only():
    """Taken at 45 degrees a corner is longer by the square root of 2, and takes a chuck that limits it as long."""
    section = Section.box(40, 40, 3, 6)
    girth = section.girth
    straight, slanting = (Path(((0.0, 0.0, 0.0), (rise, girth, 0.0))) for rise in (0.0, girth))
    fast = replace(NO_INERTIA, feed=1e9)
    times = [
        cut_time(tube(section, 300.0, ends=(EndCut(EndKind.FREE, path),) * 2), fast) for path in (straight, slanting)
    ]
    rest = 2 * fast.pierce
    assert times[0] - rest == pytest.approx(2 * 4 * 0.25, abs=1e-4)
    back = girth / 1000  # the second end begins where the first did
    assert times[1] - back == pytest.approx(times[0], abs=1e-3)


def test_a_window_in_a_flat_side_is_cut_with_the_tube_at_rest():
    # Source: by hand; each side of a sharp window is a trapezoid from rest to rest.
    top = 14 + 3 * math.pi + 14
    window = Contour(((100, top - 8, 0), (120, top - 8, 0), (120, top + 8, 0), (100, top + 8, 0)))
    section = Section.box(40, 40, 3, 6)
    without = cut_time(tube(section), SPEEDS)
    sides = 2 * (20 / FEED + 0.01) + 2 * (16 / FEED + 0.01)
    # On the way to the window and from it the tube makes a quarter turn, which takes less than the way along it.
    moves = move_time(100, 1000, 5000) + move_time(200, 1000, 5000) - move_time(300, 1000, 5000)
    turning = [max(move_time(d, 1000, 5000), 0.25) - move_time(d, 1000, 5000) for d in (100, 200)]
    assert cut_time(tube(section, cut_outs=[opening(window)]), SPEEDS) - without == pytest.approx(
        sides + moves + sum(turning) + SPEEDS.pierce, rel=1e-9
    )


def test_a_sheet_part_is_its_contours_its_pierces_and_the_moves_between():
    # Source: by hand. The circle of 5 mm radius may run at sqrt(5000 x 5) = 158 mm/s, so the feed counts.
    plate = SheetPart("foot", Contour.rectangle(100, 60), (Contour.circle(50, 30, 5),))
    begin = plate.holes[0].vertices[0]
    way = math.hypot(begin[0] - plate.outer.vertices[0][0], begin[1] - plate.outer.vertices[0][1])
    expected = (
        2 * (100 / FEED + 0.01) + 2 * (60 / FEED + 0.01) + (10 * math.pi / FEED + 0.01) + 2 * move_time(way, 1000, 5000)
    )
    assert cut_time(plate, SPEEDS) == pytest.approx(expected + 2 * 0.4, rel=1e-9)


def test_a_small_hole_is_cut_slower_than_the_feed():
    # Source: by hand, v²/r = a: at a radius of 0.4 mm and 5000 mm/s² that is 44.7 mm/s.
    hole = Contour.circle(50, 30, 0.4)
    plate = SheetPart("foot", Contour.rectangle(100, 60), (hole,))
    limit = math.sqrt(5000 * 0.4)
    way = math.dist(hole.clockwise().vertices[0][:2], plate.outer.vertices[0][:2])
    outline = 2 * (100 / FEED + 0.01) + 2 * (60 / FEED + 0.01)
    rest = outline + 2 * move_time(way, 1000, 5000) + 2 * 0.4
    assert cut_time(plate, SPEEDS) - rest == pytest.approx(move_time(0.8 * math.pi, limit, 5000), rel=1e-9)


@pytest.mark.parametrize(
    "section", [Section.box(40, 40, 3, 6), Section.round(48.3, 3), Section.oval(60, 30, 2)], ids=str
)
def test_it_never_beats_feed_and_gains_from_a_faster_machine(section):
    part = tube(section)
    slow = cut_time(part, SPEEDS)
    assert slow > 2 * section.girth / FEED
    for faster in ({"feed": 6000}, {"turn": 720}, {"acceleration": 10_000}, {"pierce": 0.1}, {"rapid": 90_000}):
        assert cut_time(part, replace(SPEEDS, **faster)) <= slow


def test_what_cannot_be_told_is_none():
    section = Section.box(40, 40, 3, 6)
    assert cut_time(tube(section), replace(SPEEDS, turn=None)) is None
    assert cut_time(replace(tube(section), ends=None), SPEEDS) is None
    assert cut_time(replace(tube(section), hole_count=2), SPEEDS) is None
    assert cut_time(tube(Section.angle(50, 50, 5)), SPEEDS) is None


@pytest.mark.parametrize(
    "wrong", [{"feed": 0}, {"rapid": math.nan}, {"acceleration": -1}, {"turn": 0}, {"pierce": -0.1}]
)
def test_speeds_must_be_speeds(wrong):
    with pytest.raises(BadValue, match="CutSpeeds"):
        replace(SPEEDS, **wrong)
