"""What each entity draws, looked up point by point."""

import math

import pytest
from ezdxf.entities import factory

from nesting.drawing.strokes import Bend, Segment, Sweep, strokes_of, sweep_of_segment
from tests.drawings import drawing


def made(kind, **attributes):
    return strokes_of(factory.new(kind, dxfattribs=attributes))


def at(sweep, share):
    """A point of a sweep in its plane."""
    t = sweep.first + sweep.sweep * share
    return tuple(c + math.cos(t) * u + math.sin(t) * v for c, u, v in zip(sweep.centre, sweep.u, sweep.v, strict=True))


def test_a_line_is_a_segment_in_the_drawing_itself():
    drawn = made("LINE", start=(1, 2, 3), end=(4, 5, 6))
    assert drawn == ([Segment((1, 2, 3), (4, 5, 6))], False, None)


def test_a_circle_is_a_whole_turn():
    (sweep,), closed, plane = made("CIRCLE", center=(5, 6), radius=3)
    assert (sweep.sweep, closed, plane) == (2 * math.pi, True, None)
    assert at(sweep, 0.25) == pytest.approx((5, 9, 0))


def test_an_arc_runs_anticlockwise_from_its_first_angle():
    (sweep,), closed, _ = made("ARC", center=(0, 0), radius=2, start_angle=270, end_angle=90)
    assert sweep.sweep == pytest.approx(math.pi)
    assert at(sweep, 0.5) == pytest.approx((2, 0, 0))
    assert not closed


@pytest.mark.parametrize(("first", "last"), [(0, 360), (30, 30), (10, 370), (0, 359.999999), (0, 360.000001)])
def test_an_arc_of_a_whole_turn_is_closed(first, last):
    (sweep,), closed, _ = made("ARC", center=(0, 0), radius=2, start_angle=first, end_angle=last)
    assert (sweep.sweep, closed) == (2 * math.pi, True)


def test_a_large_arc_that_misses_its_turn_by_more_than_is_joined_stays_open():
    # Source: by hand, 1e-4 degrees of 10 m are 0.017 mm, more than the 0.01 mm that are joined.
    (sweep,), closed, _ = made("ARC", center=(0, 0), radius=10_000, start_angle=0, end_angle=359.9999)
    assert not closed
    assert sweep.sweep < 2 * math.pi


def test_a_negative_radius_is_taken_for_its_size():
    assert made("CIRCLE", center=(0, 0), radius=-3).strokes[0].u == (3, 0, 0)


def test_an_ellipse_runs_by_its_parameter():
    (sweep,), closed, _ = made(
        "ELLIPSE", center=(1, 1), major_axis=(0, 4), ratio=0.5, start_param=0, end_param=math.pi / 2
    )
    # Source: by hand, the minor axis lies a quarter turn anticlockwise of (0, 4): (-2, 0).
    assert (at(sweep, 0.0), at(sweep, 1.0)) == (pytest.approx((1, 5, 0)), pytest.approx((-1, 1, 0)))
    assert not closed
    assert made("ELLIPSE", center=(1, 1), major_axis=(4, 0), ratio=0.5).closed


def test_what_is_drawn_from_behind_gets_its_plane():
    drawn = made("CIRCLE", center=(5, 6), radius=3, extrusion=(0, 0, -1))
    # Source: DXF reference, arbitrary axis algorithm: seen from behind x runs to the left.
    assert drawn.plane.transform((5, 6, 0)).isclose((-5, 6, 0))


def test_a_polyline_of_lines_and_arcs_is_its_segments():
    _, space = drawing()
    polyline = space.add_lwpolyline([(0, 0, 0), (4, 0, 1), (4, 2, 0)], format="xyb", close=True)
    polyline.dxf.elevation = 7
    drawn = strokes_of(polyline)
    assert drawn.closed
    assert drawn.strokes == [
        Segment((0, 0, 7), (4, 0, 7)),
        Segment((4, 0, 7), (4, 2, 7), 1.0),
        Segment((4, 2, 7), (0, 0, 7)),
    ]
    polyline.closed = False
    assert len(strokes_of(polyline).strokes) == 2


def test_old_polylines_in_the_plane_and_in_space():
    _, space = drawing("R12")
    flat = strokes_of(space.add_polyline2d([(0, 0, 0.5), (4, 0, 0)], format="xyb"))
    assert flat.strokes == [Segment((0, 0, 0), (4, 0, 0), 0.5)]
    space_curve = strokes_of(space.add_polyline3d([(0, 0, 1), (4, 0, 2), (4, 4, 3)], close=True))
    assert [stroke.start[2] for stroke in space_curve.strokes] == [1, 2, 3]
    assert space_curve.closed
    assert strokes_of(space.add_polyface()) is None


def test_the_frame_of_an_old_smoothed_polyline_is_not_drawn():
    _, space = drawing("R12")
    polyline = space.add_polyline2d([(0, 0), (5, 9), (10, 0), (5, 1)])
    polyline.dxf.flags |= polyline.SPLINE_FIT_VERTICES_ADDED
    polyline.vertices[1].dxf.flags |= polyline.vertices[1].SPLINE_FRAME_CONTROL_POINT
    assert [stroke.start[:2] for stroke in strokes_of(polyline).strokes] == [(0, 0), (10, 0)]


def test_a_spline_keeps_its_numbers():
    _, space = drawing()
    (bend,), closed, plane = strokes_of(space.add_open_spline([(0, 0), (1, 2), (3, 2), (4, 0)]))
    assert isinstance(bend, Bend)
    assert (bend.degree, closed, plane) == (3, False, None)
    assert bend.controls[:, :2].tolist() == [[0, 0], [1, 2], [3, 2], [4, 0]]
    assert bend.weights.tolist() == [1, 1, 1, 1]
    (bend,), _, _ = strokes_of(space.add_rational_spline([(0, 0), (1, 1), (2, 0)], [1, 0.7, 1], degree=2))
    assert bend.weights.tolist() == [1, 0.7, 1]


WHOLE = {
    "LINE": {"start": (0, 0), "end": (5, 0)},
    "CIRCLE": {"center": (0, 0), "radius": 5},
    "ARC": {"center": (0, 0), "radius": 5, "start_angle": 0, "end_angle": 90},
    "ELLIPSE": {"center": (0, 0), "major_axis": (5, 0), "ratio": 0.5},
}


@pytest.mark.parametrize(("kind", "missing"), [(kind, name) for kind, names in WHOLE.items() for name in names])
def test_a_number_that_is_missing_is_never_made_up(kind, missing):
    assert made(kind, **WHOLE[kind]).strokes
    with pytest.raises(ValueError, match=f"{kind} without {missing}"):
        made(kind, **{name: value for name, value in WHOLE[kind].items() if name != missing})


@pytest.mark.parametrize("kind", ["TEXT", "POINT", "HATCH", "INSERT", "DIMENSION"])
def test_other_entities_draw_nothing(kind):
    assert strokes_of(factory.new(kind)) is None


@pytest.mark.parametrize(
    ("start", "end", "bulge", "middle"),
    [((0, 0, 0), (2, 0, 0), 1.0, (1, -1)), ((0, 0, 0), (2, 0, 0), -1.0, (1, 1)), ((3, 3, 5), (3, 7, 5), 1.0, (5, 5))],
)
def test_a_bulge_is_a_sweep_to_the_right_of_its_chord(start, end, bulge, middle):
    # Source: DXF reference, bulge is the tangent of a quarter of the angle, positive anticlockwise: 1 is a half circle.
    sweep = sweep_of_segment(Segment(start, end, bulge))
    assert isinstance(sweep, Sweep)
    assert at(sweep, 0.0) == pytest.approx(start)
    assert at(sweep, 1.0) == pytest.approx(end)
    assert at(sweep, 0.5)[:2] == pytest.approx(middle)
