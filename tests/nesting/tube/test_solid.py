import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.tube.solid import Conic, Edge, Face, Solid, Surface

unit_vectors = (
    st.tuples(*[st.floats(-1, 1)] * 3)
    .filter(lambda v: math.hypot(*v) > 0.1)
    .map(lambda v: np.array(v) / math.hypot(*v))
)


def ellipse(major, minor, first, last, turn):
    along, up = np.array([math.cos(turn), math.sin(turn), 0.3]), np.array([-math.sin(turn), math.cos(turn), 0.0])
    conic = Conic(np.array([5.0, -3.0, 2.0]), major * along / np.linalg.norm(along), minor * up, first, last)
    t = np.linspace(first, last, 5)[:, None]
    return Edge(conic.centre + np.cos(t) * conic.major + np.sin(t) * conic.minor, 1.0, (0, 1), conic=conic)


@given(direction=unit_vectors, first=st.floats(-7, 7), sweep=st.floats(0.01, 6.28), turn=st.floats(0, 6.3))
def test_a_conic_reaches_as_far_as_the_furthest_of_many_of_its_points(direction, first, sweep, turn):
    edge = ellipse(30.0, 11.0, first, first + sweep, turn)
    t = np.linspace(first, first + sweep, 20_001)[:, None]
    along = (edge.conic.centre + np.cos(t) * edge.conic.major + np.sin(t) * edge.conic.minor) @ direction
    low, high = edge.extent(direction)
    assert low == pytest.approx(float(along.min()), abs=1e-5)
    assert high == pytest.approx(float(along.max()), abs=1e-5)


@given(direction=unit_vectors)
def test_a_free_curve_reaches_further_than_its_points(direction):
    t = np.linspace(0, 1.5 * math.pi, 97)
    points = np.stack([20 * np.cos(t), 20 * np.sin(t), np.sqrt(900 - 400 * np.cos(t) ** 2)], axis=1)
    slopes = np.stack([-20 * np.sin(t), 20 * np.cos(t), 400 * np.cos(t) * np.sin(t) / points[:, 2]], axis=1)
    edge = Edge(points, 1.0, (0, 1), slopes=slopes * (t[1] - t[0]))
    fine = np.linspace(0, 1.5 * math.pi, 100_001)
    curve = np.stack([20 * np.cos(fine), 20 * np.sin(fine), np.sqrt(900 - 400 * np.cos(fine) ** 2)], axis=1)
    low, high = edge.extent(direction)
    assert low == pytest.approx(float((curve @ direction).min()), abs=1e-5)
    assert high == pytest.approx(float((curve @ direction).max()), abs=1e-5)


def test_normals_point_out_of_the_metal():
    axis, at = np.array([0.0, 0.0, 1.0]), np.array([[3.0, 4.0, 7.0]])
    origin = np.zeros(3)
    out = np.array([0.6, 0.8, 0.0])
    assert Face(Surface.CYLINDER, 1, origin, axis, 5.0).normals(at)[0] == pytest.approx(out)
    assert Face(Surface.CYLINDER, 1, origin, axis, 5.0, is_hollow=True).normals(at)[0] == pytest.approx(-out)
    assert Face(Surface.SPHERE, 1, origin, axis, 5.0).normals(at)[0] == pytest.approx(at[0] / np.linalg.norm(at))
    assert Face(Surface.PLANE, 1, origin, axis).normals(at)[0] == pytest.approx(axis)
    # Source: by hand: a cone that widens by its slope 1 leans back by 45 degrees
    cone = Face(Surface.CONE, 1, origin, axis, 5.0, slope=1.0).normals(at)[0]
    assert cone == pytest.approx(np.array([0.6, 0.8, -1.0]) / math.sqrt(2))
    assert Face(Surface.FREE, 1, origin, axis).normals(at) is None


def test_a_solid_with_a_face_on_one_side_only_is_not_closed():
    line = np.array([[0.0, 0, 0], [1, 0, 0]])
    face = Face(Surface.PLANE, 1, np.zeros(3), np.array([0.0, 0, 1]))
    assert Solid((face, face), (Edge(line, 1, (0, 1)), Edge(line, 1, (0,), is_seam=True)), 1.0).is_closed
    assert not Solid((face, face), (Edge(line, 1, (0, 1)), Edge(line, 1, (0,))), 1.0).is_closed


def test_samples_inside_faces_count_for_the_extent():
    line = np.array([[0.0, 0, 0], [1, 0, 0]])
    dome = Face(Surface.SPHERE, 1, np.zeros(3), np.array([0.0, 0, 1]), samples=np.array([[0.5, 0.0, 4.0]]))
    solid = Solid((dome,), (Edge(line, 1, (0, 1)),), 1.0)
    assert solid.extent(np.array([0.0, 0.0, 1.0])) == (0.0, 4.0)
    assert len(solid.points()) == 3


def test_fine_points_of_a_circle_lie_on_it_and_reach_its_outermost_places():
    turn = Conic(np.zeros(3), np.array([20.0, 0, 0]), np.array([0, 20.0, 0]), 0, math.tau)
    circle = Edge(np.zeros((2, 3)), 0.0, (0,), conic=turn)
    points = circle.fine_points(0.01)
    assert np.linalg.norm(points, axis=1) == pytest.approx(20.0, abs=1e-12)
    middles = (points[1:] + points[:-1]) / 2.0
    assert 20.0 - np.linalg.norm(middles, axis=1).min() <= 0.01
    assert points.max(axis=0)[:2] == pytest.approx([20.0, 20.0], abs=1e-12)


def test_fine_points_of_a_free_curve_follow_the_cubics_through_its_points():
    # Source: by hand: (t, t³, 0) is a cubic itself, so points between lie on it
    t = np.linspace(0.0, 1.0, 4)
    free = Edge(
        np.stack([t, t**3, 0 * t], axis=1), 1.0, (0,), slopes=np.stack([1 + 0 * t, 3 * t**2, 0 * t], axis=1) / 3.0
    )
    points = free.fine_points(1e-4)
    assert len(points) > 10
    assert points[:, 1] == pytest.approx(points[:, 0] ** 3, abs=1e-12)


def test_fine_points_of_a_line_are_its_ends():
    line = Edge(np.array([[0.0, 0, 0], [5.0, 0, 0]]), 5.0, (0,))
    assert line.fine_points(0.01).tolist() == [[0, 0, 0], [5, 0, 0]]
