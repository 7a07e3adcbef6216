import math
from functools import cache

import numpy as np
import pytest

from nesting.geometry.arcs import FLAT, arc_circle
from nesting.model.section import Section
from nesting.tube.development import CHORD_OF_CUTS, cut_ring, end_path
from nesting.tube.measuring import measure
from nesting.tube.tube_shape import tube_shape
from nesting.tube.tube_solids import Cope, Hole, Mitre, Slot, Tube, Window, tube_solid
from nesting.tube.unroll import rolled, unrolled
from tests import other_solids

BOX, ROUND = Section.box(60, 40, 3, 6), Section.round(48.3, 3)
RADIUS = 24.15


@cache
def flat(tube, change=None):
    """Section, the flat paths of both ends, and the rings of the openings."""
    made = tube_solid(tube)
    solid = measure(made if change is None else change(made))
    shape = tube_shape(solid)
    ends = [end_path(solid, shape, end.outer) for end in (shape.start, shape.end)]
    return shape.section.section, ends, [cut_ring(solid, shape, opening.outer) for opening in shape.openings]


def fine(path, step=0.05):
    """Points (x, s) along a path of lines."""
    points = []
    for (x0, s0, _), (x1, s1, _) in zip(path.vertices, path.vertices[1:], strict=False):
        count = max(2, math.ceil(math.hypot(x1 - x0, s1 - s0) / step))
        points += [(x0 + (x1 - x0) * k / count, s0 + (s1 - s0) * k / count) for k in range(count)]
    return np.array(points)


@pytest.mark.parametrize("angle", [5.0, 30.0, 45.0, 60.0])
def test_a_mitre_on_round_tube_unrolls_to_the_sine_curve_of_the_textbooks(angle):
    section, (start, _), _ = flat(Tube(ROUND, 500, start=Mitre(angle, 90)))
    # Source: parallel-line development of a truncated cylinder, as in textbooks of sheet metal pattern drafting:
    # the edge stands R tan(angle) (1 - cos(s / R)) behind the long point, s counted from there
    for places, within in ((fine(start), CHORD_OF_CUTS), (np.array(start.vertices)[1:-1, :2], 1e-6)):
        wave = RADIUS * math.tan(math.radians(angle)) * (1 - np.sin(places[:, 1] / RADIUS))
        assert np.abs(places[:, 0] - wave).max() < within / math.cos(math.radians(angle))
    assert (start.vertices[0][1], start.vertices[-1][1]) == pytest.approx((0.0, section.girth), abs=1e-6)


@pytest.mark.parametrize(
    "cope", [Cope(60.3, 0), Cope(60.3, 0, offset=4), Cope(88.9, 0, angle=60), Cope(52, 0)], ids=str
)
def test_a_saddle_unrolls_to_where_two_cylinders_meet(cope):
    section, (_, end), _ = flat(Tube(ROUND, 500, end=cope))
    # Source: derivation: at the angle t round this tube, (R cos t, R sin t) across, the mate of radius M, which leans
    # along y from square and passes at z = e, begins sqrt(M² - (R sin t - e)²) / sin(angle) before its axis, which
    # stands R cos t / tan(angle) further out there; the whole is shifted so that its tips are at the length
    mate, lean = cope.diameter / 2, math.radians(cope.angle)

    def saddle(s):
        t = s / RADIUS
        beside = RADIUS * np.sin(t) - cope.offset
        return RADIUS * np.cos(t) / math.tan(lean) - np.sqrt(mate**2 - beside**2) / math.sin(lean)

    every = saddle(np.linspace(0, section.girth, 200_001))
    shift = 500 - every.max()
    places = np.array(end.vertices)[1:-1, :2]
    # the kernel writes the curve itself to about 2e-5
    assert np.abs(places[:, 0] - shift - saddle(places[:, 1])).max() < 5e-5
    between = fine(end)
    assert np.abs(between[:, 0] - shift - saddle(between[:, 1])).max() < 4 * CHORD_OF_CUTS
    assert end.length == pytest.approx(float(np.hypot(np.diff(every), section.girth / 200_000).sum()), rel=2e-4)


@pytest.mark.parametrize("change", [None, other_solids.split_at_quarters, other_solids.free_form], ids=str)
def test_lines_and_circles_on_flats_stay_exact(change):
    openings = (Hole(80, 12, 90, 5), Slot(130, 30, 8, 0), Window(180, 20, 10, 180), Slot(230, 20, 6, 270, across=True))
    _, (start, _), rings = flat(Tube(BOX, 300, openings=openings), change)
    hole, slot, window, narrow = rings
    # Source: by hand, pi d, 2 (length - width) + pi width, 2 (a + b)
    assert hole.length == pytest.approx(math.pi * 12, abs=5e-6)
    assert hole.area == pytest.approx(math.pi * 36, abs=1e-5)
    assert slot.length == pytest.approx(44 + math.pi * 8, abs=5e-6)
    assert window.area == pytest.approx(200, abs=1e-6)
    assert narrow.length == pytest.approx(28 + math.pi * 6, abs=5e-6)
    radii = [arc_circle(*span)[1] for ring in (slot, narrow) for span in ring._spans() if abs(span[2]) > FLAT]
    assert sorted(radii) == pytest.approx([3.0] * (len(radii) // 2) + [4.0] * (len(radii) // 2), abs=1e-6)
    assert (start.length, start.bounds.width) == pytest.approx((BOX.girth, 0.0), abs=1e-6)


@pytest.mark.parametrize("section", [BOX, ROUND, Section.oval(60, 30, 2), Section.angle(60, 40, 5, 6, 3)], ids=str)
def test_rolled_up_again_a_mitre_lies_in_its_plane(section):
    section, (_, end), _ = flat(Tube(section, 400, end=Mitre(35, 90)))
    points = rolled(section, np.array(end.vertices)[1:-1, :2])
    plane = np.column_stack([points[:, 1:], np.ones(len(points))])
    slopes, *_ = np.linalg.lstsq(plane, points[:, 0], rcond=None)
    assert np.abs(plane @ slopes - points[:, 0]).max() < 1e-6
    assert math.hypot(*slopes[:2]) == pytest.approx(math.tan(math.radians(35)), abs=1e-7)
    again = unrolled(section, points)
    assert np.abs(again - np.array(end.vertices)[1:-1, :2]).max() < 1e-6


def test_a_drilled_hole_rolled_up_again_lies_on_its_drill():
    section, _, (hole,) = flat(Tube(ROUND, 200, openings=(Hole(100, 12, 90),)))
    points = rolled(section, np.array(hole.vertices)[:, :2])
    assert np.abs(np.hypot(points[:, 0] - 100, points[:, 1]) - 6.0).max() < 1e-5
    # Source: derivation: area flat = 4 R ∫ asin(sqrt(a² - x²) / R) dx over 0..a
    x = np.linspace(0, 6, 200_001)
    area = 4 * RADIUS * np.trapezoid(np.arcsin(np.sqrt(36 - x**2) / RADIUS), x)
    assert hole.area == pytest.approx(float(area), rel=2e-3)


def test_a_notched_end_goes_once_round_from_the_start_of_the_outline():
    for towards in (0, 90, 200):
        _, (start, end), _ = flat(Tube(ROUND, 300, openings=(Window(0, 60, 20, towards), Hole(300, 14, towards))))
        for path, depth in ((start, 30.0), (end, 7.0)):
            assert (path.vertices[0][1], path.vertices[-1][1]) == pytest.approx((0.0, ROUND.girth), abs=1e-6)
            assert path.vertices[0][0] == pytest.approx(path.vertices[-1][0])
            assert path.bounds.width == pytest.approx(depth, abs=0.01)


def test_a_notch_with_an_arc_over_the_start_of_the_outline_is_split_there():
    _, (start, _), _ = flat(Tube(BOX, 300, openings=(Hole(0, 20, 0),)))
    assert (start.vertices[0][1], start.vertices[-1][1]) == pytest.approx((0.0, BOX.girth), abs=1e-6)
    # Source: by hand: half a circle of 20 instead of its diameter
    assert start.length == pytest.approx(BOX.girth - 20 + 10 * math.pi, abs=0.02)
