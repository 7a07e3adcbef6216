"""Areas of grown and shrunk outlines, held to closed forms."""

import math

import pytest

from nesting.geometry.contour import Contour
from nesting.layout.grown import grown_area, shrunk, steiner
from tests.shop_parts import L_REMNANT


def test_a_rectangle_grows_by_four_strips_and_a_circle():
    # Source: by hand: 100 x 50 grown by 2: strips 2 x 2 x (100 + 50), and four quarter circles of radius 2.
    assert grown_area(Contour.rectangle(100.0, 50.0), 2.0) == pytest.approx(5000.0 + 600.0 + 4.0 * math.pi, rel=1e-12)


def test_a_circle_grows_to_a_larger_circle():
    assert grown_area(Contour.circle(3.0, 4.0, 80.0), 2.5) == pytest.approx(math.pi * 82.5**2, rel=1e-12)


def test_an_outline_that_does_not_grow_keeps_its_exact_area():
    assert grown_area(Contour.circle(0.0, 0.0, 80.0), 0.0) == pytest.approx(math.pi * 6400.0, rel=1e-12)


def test_an_l_grows_like_its_length_less_its_inner_corner():
    # Source: by hand: by Steiner, but the inner corner has no quarter circle and its two strips overlap in a square.
    by = 5.0
    exact = L_REMNANT.area + L_REMNANT.length * by + 5.0 / 4.0 * math.pi * by * by - by * by
    found = grown_area(L_REMNANT, by)
    assert exact - 0.3 < found <= exact


def test_what_is_left_of_a_round_hole_is_a_smaller_one_or_a_hair_more():
    left = shrunk(Contour.circle(0.0, 0.0, 44.45), 5.0).area
    exact = math.pi * 39.45**2
    assert exact <= left < exact * 1.001


def test_nothing_is_left_of_a_hole_that_is_too_narrow():
    assert shrunk(Contour.rectangle(100.0, 9.0), 5.0).is_empty


def test_a_hole_with_a_waist_falls_into_two_places():
    bone = Contour(
        tuple(
            (x, y, 0.0)
            for x, y in [
                *((0, 0), (40, 0), (40, 16), (60, 16), (60, 0), (100, 0)),
                *((100, 40), (60, 40), (60, 24), (40, 24), (40, 40), (0, 40)),
            ]
        )
    )
    assert len(shrunk(bone, 5.0).geoms) == 2


def test_steiner_of_a_point_is_a_disk():
    assert steiner(0.0, 0.0, 3.0) == pytest.approx(9.0 * math.pi)


def test_an_outline_of_very_many_corners_gets_a_coarser_bound_at_once():
    corners = []
    for k in range(1000):
        reach, angle = (40.0 if k % 2 else 50.0), 2.0 * math.pi * k / 1000
        corners.append((reach * math.cos(angle), reach * math.sin(angle), 0.0))
    star = Contour(tuple(corners))
    # It lies in a circle of 50 mm, and no outline of its area grows less than a circle of that area.
    least = math.pi * (math.sqrt(star.area / math.pi) + 350.0) ** 2
    assert least * (1.0 - 1e-9) <= grown_area(star, 350.0) <= math.pi * 400.0**2
