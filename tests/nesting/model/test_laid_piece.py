"""How pieces lie, judged by the geometry kernel, which turns their solids by itself."""

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import BadValue
from nesting.geometry.contour import Contour, Path
from nesting.geometry.ring_walk import RingWalk
from nesting.model.laid_piece import fits_section, laid_cut_outs, laid_direction, laid_ends, laid_kinds, lie_in_words
from nesting.model.nest import Piece
from nesting.model.part import TubePart
from nesting.model.tube_cuts import CutOut, CutOutKind, EndCut, EndKind
from tests.mitred import ANGLE, BOX, CHANNEL, I_BEAM, OVAL, ROUND, SECTIONS, TALL, TEE, UNEQUAL, mitred

QUARTERS = (0.0, 90.0, 180.0, 270.0)


def allowed(section):
    return {(flipped, turn) for flipped in (False, True) for turn in QUARTERS
            if fits_section(section, flipped=flipped, turn=turn)}  # fmt: skip


@pytest.mark.parametrize(
    ("section", "plain", "flipped"),
    [
        # Source: by hand, from the mirror lines and turns of each shape. Turned end for end about its height axis a
        # section is mirrored in y, so what is symmetric there lies on itself, and others after a further turn.
        (BOX, QUARTERS, QUARTERS),
        (TALL, (0.0, 180.0), (0.0, 180.0)),
        (OVAL, (0.0, 180.0), (0.0, 180.0)),
        (I_BEAM, (0.0, 180.0), (0.0, 180.0)),
        (ROUND, QUARTERS, QUARTERS),
        (TEE, (0.0,), (0.0,)),
        (CHANNEL, (0.0,), (180.0,)),
        (ANGLE, (0.0,), (270.0,)),
        (UNEQUAL, (0.0,), ()),
    ],
    ids=str,
)
def test_a_section_lies_on_itself_at_the_turns_of_its_shape(section, plain, flipped):
    assert allowed(section) == {(False, turn) for turn in plain} | {(True, turn) for turn in flipped}


def test_only_round_tube_may_be_turned_by_any_angle():
    for section in SECTIONS:
        assert fits_section(section, flipped=True, turn=37.0) is (section is ROUND)


@pytest.mark.parametrize(
    ("piece", "direction", "laid"),
    [
        (Piece("a", 0.0), 90.0, 90.0),
        (Piece("a", 0.0, True), 90.0, 90.0),  # about the height axis the top stays on top
        (Piece("a", 0.0, True), 0.0, 180.0),
        (Piece("a", 0.0, True, 90.0), 0.0, 270.0),
        (Piece("a", 0.0, False, 270.0), 90.0, 0.0),
    ],
)
def test_a_side_faces_where_it_was_turned_to(piece, direction, laid):
    assert laid_direction(piece, direction) == laid


def edge_points(section, ends, count=48):
    """Points in space along both contours."""
    walk = RingWalk(section.outlines[0])
    points = []
    for end in ends:
        for (x, s, _), (next_x, next_s, _) in pairwise(end.path.vertices):
            points.append((x, *walk.point_at(s)))
            points.append(((x + next_x) / 2, *walk.point_at((s + next_s) / 2)))
    return points[:: max(1, len(points) // count)]


@pytest.mark.slow
@pytest.mark.parametrize("section", SECTIONS, ids=str)
def test_ends_as_laid_are_edges_of_the_solid_that_the_kernel_turned(section):
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex
    from OCP.BRepExtrema import BRepExtrema_DistShapeShape
    from OCP.gp import gp_Pnt

    from tests.mitred import Solids, mitred_job

    part = mitred("rail", section, 400.0, (40.0, 100.0), (25.0, 190.0))
    solids = Solids(mitred_job((part, 1)))
    turns = [(flipped, 33.0 + 90.0 * k) for flipped in (False, True) for k in range(2)] if section is ROUND else (
        sorted(allowed(section))
    )  # fmt: skip
    for flipped, turn in turns:
        piece = Piece("rail", 123.0, flipped, turn)
        solid = solids.laid(piece)
        ends = laid_ends(part, piece)
        for point in edge_points(section, ends):
            vertex = BRepBuilderAPI_MakeVertex(gp_Pnt(*point)).Vertex()
            # The contours are chords within a hundredth of the true curve.
            assert BRepExtrema_DistShapeShape(vertex, solid).Value() < 0.02
        low = min(end.path.bounds.left for end in ends)
        high = max(end.path.bounds.right for end in ends)
        assert (low, high) == pytest.approx((123.0, 523.0), abs=0.02)


@pytest.mark.parametrize("section", SECTIONS, ids=str)
@given(share=st.floats(0.0, 1.0), x=st.floats(20.0, 80.0), start=st.floats(0.0, 1000.0))
@settings(max_examples=20, deadline=None)
def test_openings_lie_where_their_middle_was_turned_to(section, share, x, start):
    walk = RingWalk(section.outlines[0])
    ring = Contour.circle(x, share * walk.girth, 4.0)
    cut = CutOut(CutOutKind.ROUND, "top", x, share * walk.girth, 0.0, 90.0, 8.0, 8.0, (ring,), 8.0)
    part = TubePart("rail", section, 100.0, 1, cut_outs=(cut,))
    y, z = walk.point_at(share * walk.girth)
    for flipped, turn in allowed(section):
        (laid,) = laid_cut_outs(part, Piece("rail", start, flipped, turn))
        middle = ((laid.bounds.left + laid.bounds.right) / 2, (laid.bounds.bottom + laid.bounds.top) / 2)
        a = math.radians(turn)
        across = -y if flipped else y
        wanted = (across * math.cos(a) - z * math.sin(a), across * math.sin(a) + z * math.cos(a))
        assert middle[0] == pytest.approx(start + (100.0 - x if flipped else x))
        assert walk.point_at(middle[1]) == pytest.approx(wanted, abs=1e-6)
        assert -1e-6 <= middle[1] <= walk.girth
        assert laid.area == pytest.approx(ring.area)


@pytest.mark.parametrize("section", SECTIONS, ids=str)
def test_a_contour_stays_once_round_and_as_long_whatever_the_turn(section):
    girth = RingWalk(section.outlines[0]).girth
    # A notch with an arc across the line at which the surface is opened.
    notch = Path(((0.0, 0.0, 0.5), (5.0, 0.1 * girth, 0.0), (0.0, 0.2 * girth, 0.0), (0.0, 0.9 * girth, -0.4),
                  (0.0, girth, 0.0)))  # fmt: skip
    part = TubePart("rail", section, 100.0, ends=(EndCut(EndKind.FREE, notch),) * 2)
    for flipped, turn in allowed(section):
        for end in laid_ends(part, Piece("rail", 0.0, flipped, turn)):
            assert end.path.vertices[0][1] == pytest.approx(0.0, abs=1e-9)
            assert end.path.vertices[-1][1] == pytest.approx(girth, abs=1e-9)
            assert end.path.length == pytest.approx(notch.length)


def test_turned_back_a_piece_lies_as_it_was_drawn():
    part = mitred("rail", BOX, 400.0, (40.0, 100.0), (25.0, 190.0))
    once = laid_ends(part, Piece("rail", 0.0, True, 90.0))
    again = laid_ends(TubePart("rail", BOX, 400.0, ends=once), Piece("rail", 0.0, True, 90.0))
    for end, was in zip(again, part.ends, strict=True):
        assert (end.kind, end.angle) == (was.kind, was.angle)
        assert end.towards == pytest.approx(was.towards)
        assert end.path.mean_x == pytest.approx(was.path.mean_x)
        assert end.path.length == pytest.approx(was.path.length)


def test_a_cope_that_is_turned_keeps_its_mate():
    path = Path(((0.0, 0.0, 0.0), (0.0, ROUND.girth, 0.0)))
    cope = EndCut(EndKind.COPE, path, 90.0, 30.0, 60.3, 4.0)
    part = TubePart("rail", ROUND, 400.0, ends=(cope, EndCut(EndKind.SQUARE, path)))
    near, far = laid_kinds(part, Piece("rail", 0.0, True, 0.0))
    assert near.kind is EndKind.SQUARE
    # Source: by hand: mirrored in y the line at 30° lies at 150°, and what was beside it on one side is on the other.
    assert (far.towards, far.offset) == (150.0, -4.0)
    turned, _ = laid_kinds(part, Piece("rail", 0.0, False, 170.0))
    assert (turned.towards, turned.offset) == (20.0, -4.0)


def test_a_turn_that_the_section_does_not_allow_is_refused():
    with pytest.raises(BadValue, match="does not lie on itself when turned 90° about the bar's axis"):
        laid_ends(mitred("rail", TALL, 400.0, (45.0, 90.0)), Piece("rail", 0.0, False, 90.0))


@pytest.mark.parametrize(
    ("piece", "words"),
    [
        (Piece("a", 0.0), ""),
        (Piece("a", 0.0, False, 360.0), ""),
        (Piece("a", 0.0, True), "end for end"),
        (Piece("a", 0.0, True, 180.0), "end for end, turned 180° about the bar's axis"),
        (Piece("a", 0.0, False, 12.5), "turned 12.5° about the bar's axis"),
    ],
)
def test_how_a_piece_lies_is_said_in_words(piece, words):
    assert lie_in_words(piece) == words


def test_a_part_without_known_ends_has_none_laid():
    assert laid_ends(TubePart("post", BOX, 100.0), Piece("post", 0.0)) is None
    assert laid_kinds(TubePart("post", BOX, 100.0), Piece("post", 0.0)) is None
