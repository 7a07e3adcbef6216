import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.layout.joints import BLUNT, SQUARE, Joints
from nesting.model.nest import BarRules, Piece
from nesting.model.part import TubePart
from nesting.verify.bar_check import check_bars
from tests.mitred import (
    BOX,
    CHANNEL,
    ROUND,
    SECTIONS,
    TALL,
    UNEQUAL,
    brace,
    depth,
    frame_side,
    mitred,
    mitred_job,
    nest_of,
)


def kinds(joints, name):
    return {(way.near, way.far) for way in joints.ways[name]}


@pytest.mark.parametrize("section", [BOX, TALL, ROUND], ids=str)
@pytest.mark.parametrize("part", [frame_side, brace])
def test_equal_mitres_save_their_depth(section, part):
    # Source: by hand: height times the tangent of the angle, each time.
    joints = Joints(mitred_job((part(section=section, angle=50.0), 4)))
    ((near, far),) = kinds(joints, part().name)
    assert near == far
    assert joints.saved(far, near) == pytest.approx(depth(section, 50.0))
    assert joints.half(far) == pytest.approx(depth(section, 50.0) / 2.0)


def test_on_a_channel_only_a_piece_turned_end_for_end_follows_another():
    job = mitred_job((frame_side(section=CHANNEL), 2))
    joints = Joints(job)
    # Source: by hand: its own turn is end for end about the width axis, which changes top and bottom over, so the
    # slope of either end lies on itself only there.
    plain, turned = joints.ways["side"]
    assert (plain.flipped, turned.flipped) == (False, True)
    assert joints.saved(plain.far, plain.near) == pytest.approx(0.0, abs=1e-9)
    assert joints.saved(plain.far, turned.near) == pytest.approx(100.0)


def test_nothing_is_saved_where_no_turn_is_allowed():
    rules = BarRules(5.0, turns=(0.0,), flip=False)
    joints = Joints(mitred_job((frame_side(), 2), rules=rules))
    assert not joints.may_save
    assert Joints(mitred_job((brace(), 2), rules=rules)).may_save
    assert Joints(mitred_job((frame_side(section=UNEQUAL), 2))).may_save is False


def test_square_blunt_and_unknown_ends_save_nothing():
    post, plain = mitred("post", BOX, 300.0), TubePart("plain", BOX, 300.0)
    joints = Joints(mitred_job((post, 1), (plain, 1), (replace(plain, name="cut", square_ends=False), 1)))
    assert kinds(joints, "post") == kinds(joints, "plain") == {(SQUARE, SQUARE)}
    assert kinds(joints, "cut") == {(BLUNT, BLUNT)}
    assert not joints.may_save


def test_one_cut_spares_the_rest_of_the_gap():
    rules = BarRules(5.0, shared_cut=0.5)
    joints = Joints(mitred_job((mitred("post", BOX, 300.0), 2), (frame_side(angle=60.0), 2), rules=rules))
    assert joints.saved(SQUARE, SQUARE) == pytest.approx(4.5)
    ((near, far),) = kinds(joints, "side")
    assert joints.saved(far, near) == pytest.approx(depth(BOX, 60.0) + 5.0 - 1.0)
    assert joints.saved(far, SQUARE) == joints.saved(SQUARE, near) == 0.0


def test_pieces_of_another_section_keep_apart():
    joints = Joints(mitred_job((frame_side(), 2), (frame_side("other", TALL), 2)))
    assert kinds(joints, "other") == {(BLUNT, BLUNT)}


def test_a_piece_that_ends_in_a_point_keeps_apart():
    sharp = replace(frame_side(), length=79.0)
    assert kinds(Joints(mitred_job((sharp, 2))), "side") == {(BLUNT, BLUNT)}


@pytest.mark.parametrize("turns", [(90.0,), (90.0, 270.0), (0.0, 90.0), (0.0, 120.0, 240.0), (10.0, 190.0)])
def test_listed_turns_are_the_only_ones_taken(turns):
    section = ROUND if any(turn % 90.0 for turn in turns) else BOX
    rules = BarRules(5.0, turns=turns)
    joints = Joints(mitred_job((frame_side(section=section), 2), rules=rules))
    for way in joints.ways["side"]:
        for turn in joints.turns if section is BOX else (0.0,):
            assert rules.may_turn(way.turn + turn)


@pytest.mark.parametrize("section", SECTIONS, ids=str)
@given(
    st.floats(5.0, 60.0),
    st.floats(0.0, 360.0),
    st.floats(5.0, 60.0),
    st.floats(0.0, 360.0),
    st.sampled_from([None, 1.0]),
)
@settings(max_examples=10, deadline=None)
def test_what_two_ends_save_is_never_more_than_their_halves_and_passes_the_check(section, a, at, b, bt, kerf):
    one, two = mitred("one", section, 900.0, None, (a, at)), mitred("two", section, 900.0, (b, bt))
    job = mitred_job((one, 1), (two, 1), rules=BarRules(5.0, shared_cut=kerf))
    joints = Joints(job)
    first = next(way for way in joints.ways["one"] if not way.flipped)
    before_turn, before = joints.turned_to(None, first)
    for way in joints.ways["two"]:
        turn, _ = joints.turned_to(before, way)
        saved = joints.saved_by(before, way.near_face.turned(turn - way.turn))
        assert saved == pytest.approx(joints.saved(first.far, way.near), abs=1e-6)
        assert saved <= joints.half(first.far) + joints.half(way.near) + 1e-6
        start = 900.0 + 5.0 - saved
        pieces = Piece("one", 0.0, False, before_turn), Piece("two", start, way.flipped, turn)
        assert check_bars(nest_of(job, *pieces)) == ()
        nearer = replace(pieces[1], start=start - 0.01)
        assert [finding.code for finding in check_bars(nest_of(job, pieces[0], nearer))] == ["gap-short"]


def test_a_round_piece_shows_its_long_point_on_top_when_it_comes_first():
    joints = Joints(mitred_job((mitred("rail", ROUND, 500.0, (45.0, 10.0), (45.0, 10.0)), 1)))
    turn, far = joints.turned_to(None, joints.ways["rail"][0])
    assert turn == pytest.approx(80.0)
    assert math.degrees(math.atan2(far.z, far.y)) == pytest.approx(90.0)
