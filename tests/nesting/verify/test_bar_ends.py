"""Mitres that lie against each other, with faults planted by hand."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.geometry.contour import Path
from nesting.model.nest import BarRules, Piece
from nesting.model.part import TubePart
from nesting.model.tube_cuts import EndCut, EndKind
from nesting.verify.bar_check import check_bars
from tests.mitred import BOX, CHANNEL, ROUND, TALL, brace, depth, frame_side, mitred, mitred_job, nest_of


def codes(nest):
    return [finding.code for finding in check_bars(nest)]


def pair(part, turn, flipped=False, start=None, rules=None, overlap=0.0):
    """Two of a part, the second laid as told, behind the first by the gap less the overlap."""
    rules = rules or BarRules(5.0)
    start = part.length + rules.gap - overlap if start is None else start
    return nest_of(mitred_job((part, 2), rules=rules), Piece(part.name, 0.0), Piece(part.name, start, flipped, turn))


@pytest.mark.parametrize("section", [BOX, TALL, ROUND], ids=str)
@pytest.mark.parametrize("angle", [10.0, 45.0, 60.0])
def test_sides_of_a_frame_interlock_when_one_is_turned_over(section, angle):
    # Source: by hand: the slopes lie on each other, so the second begins the height times the tangent earlier.
    part, deep = frame_side(section=section, angle=angle), depth(section, angle)
    assert codes(pair(part, 180.0, overlap=deep)) == []
    assert codes(pair(part, 180.0, overlap=deep + 0.01)) == ["gap-short"]
    assert codes(pair(part, 180.0, overlap=deep + 5.01)) == ["overlap"]
    assert codes(pair(part, 180.0, overlap=deep + 0.1)) == ["gap-short"]


def test_the_wrong_turn_is_an_overlap():
    part, deep = frame_side(), depth(BOX, 45.0)
    for turn, flipped in ((0.0, False), (0.0, True)):
        assert codes(pair(part, turn, flipped, overlap=deep)) == ["overlap"]
    assert codes(pair(brace(), 0.0, overlap=deep)) == []
    assert codes(pair(brace(), 180.0, overlap=deep)) == ["overlap"]
    assert codes(pair(brace(), 180.0, True, overlap=deep)) == []


def test_the_sentence_tells_how_much_is_missing():
    (finding,) = check_bars(pair(frame_side(), 0.0, overlap=40.0))
    assert finding.message == "Bar 1: side starts at 565.00 mm, before side ends at 600.00 mm."
    (finding,) = check_bars(pair(frame_side(), 180.0, overlap=50.0))
    assert finding.message == "Bar 1: side starts at 555.00 mm, before side ends at 600.00 mm; they overlap by 5.00 mm."


def test_a_slope_shares_no_more_than_the_smaller_of_two():
    # Source: by hand: against 30° a mitre of 45° touches with the short point of the one on the slope of the other.
    steep, shallow = frame_side("steep"), frame_side("shallow", angle=30.0)
    job = mitred_job((steep, 1), (shallow, 1))
    for overlap, found in ((depth(BOX, 30.0), []), (depth(BOX, 30.0) + 0.01, ["gap-short"])):
        pieces = Piece("steep", 0.0), Piece("shallow", 605.0 - overlap, False, 180.0)
        assert codes(nest_of(job, *pieces)) == found


def test_mitres_that_lean_across_each_other_share_nothing_but_a_corner():
    part = frame_side()
    # Source: by hand: on a square tube with round corners of 6 mm the two slopes meet at a corner, where the arc leaves
    # 2·r·(1 - 1/√2) = 3.515 mm between them.
    assert codes(pair(part, 90.0, overlap=3.51)) == []
    assert codes(pair(part, 90.0, overlap=3.53)) == ["gap-short"]


def test_square_ends_keep_the_gap():
    part = mitred("post", BOX, 300.0)
    assert codes(pair(part, 0.0)) == []
    assert codes(pair(part, 0.0, overlap=0.01)) == ["gap-short"]


@pytest.mark.parametrize(
    ("section", "turn", "flipped"), [(TALL, 90.0, False), (CHANNEL, 180.0, False), (BOX, 45.0, True)]
)
def test_a_turn_that_the_section_does_not_allow_is_found(section, turn, flipped):
    (finding,) = check_bars(pair(frame_side(section=section), turn, flipped))
    assert finding.code == "turn-not-allowed"
    assert "does not lie on itself" in finding.message


@pytest.mark.parametrize(
    ("rules", "found"),
    [
        (BarRules(5.0, turns=(0.0,)), ["turn-not-allowed"]),
        (BarRules(5.0, turns=(0.0, 180.0)), []),
        (BarRules(5.0, turns=(0.0, 180.0), flip=False), ["turn-not-allowed"]),
    ],
)
def test_turns_that_the_rules_do_not_allow_are_found(rules, found):
    assert codes(pair(brace(), 180.0, True, rules=rules)) == found


def test_one_cut_may_part_two_ends_that_lie_flat_on_each_other():
    rules = BarRules(5.0, shared_cut=0.4)
    square = mitred("post", BOX, 300.0)
    for between, found in ((0.4, []), (5.0, []), (2.0, ["gap-short"]), (0.3, ["gap-short"])):
        assert codes(pair(square, 0.0, start=300.0 + between, rules=rules)) == found
    # Source: by hand: along a bar a cut at 60° from square is twice as wide as square to itself.
    side = frame_side(angle=60.0)
    for between, found in ((0.8, []), (0.4, ["gap-short"]), (1.0, ["gap-short"])):
        assert codes(pair(side, 180.0, start=600.0 - depth(BOX, 60.0) + between, rules=rules)) == found
    assert codes(pair(side, 0.0, start=600.4, rules=rules)) == ["gap-short"]
    plain = TubePart("plain", BOX, 300.0)
    assert codes(pair(plain, 0.0, start=300.4, rules=rules)) == []
    assert codes(pair(replace(plain, square_ends=False), 0.0, start=300.4, rules=rules)) == ["gap-short"]


def test_ends_that_are_no_plane_keep_to_their_extent():
    part = frame_side()
    for kind in (EndKind.FREE, EndKind.COPE):
        wavy = tuple((x + (3.0 if 20.0 < s < 40.0 else 0.0), s, b) for x, s, b in part.ends[0].path.vertices)
        cut = EndCut(kind, Path(wavy), 60.0 if kind is EndKind.COPE else 0.0, 0.0, 80.0)
        other = replace(part, ends=(cut, part.ends[1]))
        assert codes(pair(other, 180.0)) == []
        assert codes(pair(other, 180.0, overlap=0.01)) == ["gap-short"]


def test_an_end_is_believed_by_its_contour_and_not_by_its_words():
    part = frame_side()
    square = tuple((0.0, s, 0.0) for _, s, _ in part.ends[0].path.vertices)
    lying = replace(part, ends=(replace(part.ends[0], path=Path(square)), part.ends[1]))
    assert codes(pair(lying, 180.0, overlap=40.0)) == ["overlap"]


def test_a_contour_that_is_not_where_its_piece_ends_is_not_believed():
    part = frame_side()
    short = tuple((x + 20.0, s, b) for x, s, b in part.ends[0].path.vertices)
    assert codes(pair(replace(part, ends=(replace(part.ends[0], path=Path(short)), part.ends[1])), 180.0)) == []
    again = pair(replace(part, ends=(replace(part.ends[0], path=Path(short)), part.ends[1])), 180.0, overlap=40.0)
    assert codes(again) == ["overlap"]


def test_a_bevelled_mitre_and_one_cut_square_to_the_wall_keep_apart():
    part = frame_side()
    straight = replace(part, name="straight", ends=tuple(replace(end, bevel=0.0) for end in part.ends))
    job = mitred_job((part, 1), (straight, 1))
    pieces = Piece("side", 0.0), Piece("straight", 565.0, False, 180.0)
    assert codes(nest_of(job, *pieces)) == ["overlap"]
    assert codes(pair(straight, 180.0, overlap=40.0)) == []


@pytest.mark.slow
@given(st.integers(0, 3), st.booleans(), st.floats(0.0, 30.0), st.floats(5.0, 60.0), st.floats(0.0, 360.0),
       st.floats(5.0, 60.0), st.floats(0.0, 360.0))  # fmt: skip
@settings(max_examples=25, deadline=None)
def test_the_geometry_kernel_says_the_same(turn, flipped, apart, angle, towards, other, across):
    """Clearance along the bar is where a pair, pushed together by it, just touches."""
    from tests.mitred import Solids

    one = mitred("one", BOX, 400.0, None, (angle, towards))
    two = mitred("two", BOX, 400.0, (other, across), (other, across))
    job = mitred_job((one, 1), (two, 1), rules=BarRules(0.0))
    solids, laid = Solids(job), Piece("two", 400.0, flipped, 90.0 * turn)
    free = nest_of(job, Piece("one", 0.0), laid)
    assert codes(free) == []

    def is_free(back):
        return codes(nest_of(job, Piece("one", 0.0), replace(laid, start=400.0 - back))) == []

    low, high = 0.0, 399.0
    for _ in range(40):
        middle = (low + high) / 2.0
        low, high = (middle, high) if is_free(middle) else (low, middle)
    touching = nest_of(job, Piece("one", 0.0), replace(laid, start=400.0 - low + 0.02 + apart)).layouts[0]
    assert solids.shared_volumes(touching)[0] == pytest.approx(0.0, abs=1e-6)
    assert solids.distances(touching)[0] <= 0.03 + apart
    pressed = nest_of(job, Piece("one", 0.0), replace(laid, start=400.0 - low - 0.5)).layouts[0]
    assert solids.shared_volumes(pressed)[0] > 1e-3 or solids.distances(pressed)[0] == 0.0
