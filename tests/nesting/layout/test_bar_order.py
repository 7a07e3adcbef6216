from itertools import pairwise, permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.layout.bar_order import BarOrder
from nesting.layout.joints import Joints
from nesting.model.nest import BarNest, BarRules, PieceOrder
from nesting.model.stock import Bar
from nesting.verify.bar_check import check_bars
from tests.mitred import BOX, CHANNEL, TALL, brace, depth, frame_side, mitred, mitred_job

SHAPES = {
    "side": ((45.0, 90.0), (45.0, 90.0)),
    "brace": ((30.0, 90.0), (30.0, 270.0)),
    "half": ((45.0, 90.0), None),
    "mixed": ((45.0, 90.0), (30.0, 90.0)),
    "post": (None, None),
}


def order_of(*demands, **rules):
    job = mitred_job(*demands, rules=BarRules(5.0, **rules))
    return BarOrder(job, Joints(job)), job


def most_saved_by_trying(order, names):
    """Source: every order of the pieces, and every way of each."""
    joints, best = order._joints, 0.0
    for row in set(permutations(names)):
        for ways in product(*(joints.ways[name] for name in row)):
            best = max(best, sum(joints.saved(one.far, other.near) for one, other in pairwise(ways)))
    return best


@pytest.mark.parametrize("section", [BOX, TALL, CHANNEL], ids=str)
@given(st.lists(st.sampled_from(sorted(SHAPES)), min_size=1, max_size=5))
@settings(max_examples=15, deadline=None)
def test_no_order_saves_more_than_the_one_that_is_laid(section, names):
    parts = {name: mitred(name, section, 700.0, *SHAPES[name]) for name in sorted(set(names))}
    order, job = order_of(*((part, names.count(name)) for name, part in parts.items()))
    saved = most_saved_by_trying(order, names)
    assert order.used(names) == pytest.approx(705.0 * len(names) - 5.0 - saved)
    layout = order.lay(job.stock[0], names, 1)
    last = layout.pieces[-1]
    assert last.start + 700.0 == pytest.approx(order.used(names))
    assert check_bars(BarNest(job, (layout,))) == ()


def test_a_chain_of_thirty_is_laid_at_its_best_too():
    order, job = order_of((frame_side(length=150.0), 15), (brace(length=150.0), 15))
    names = ["side", "brace"] * 15
    # Source: by hand: all mitres are alike, so all 29 joints share 40 mm.
    assert order.used(names) == pytest.approx(30 * 155.0 - 5.0 - 29 * depth(BOX, 45.0))
    layout = order.lay(job.stock[0], names, 1)
    assert check_bars(BarNest(job, (layout,))) == ()


@pytest.mark.parametrize(
    ("wanted", "lengths"),
    [
        (PieceOrder.LONGEST_FIRST, [900.0, 700.0, 700.0, 400.0]),
        (PieceOrder.LONGEST_LAST, [400.0, 700.0, 700.0, 900.0]),
        (PieceOrder.ANY, [700.0, 900.0, 400.0, 700.0]),
    ],
)
@pytest.mark.parametrize("ends", [(None, None), SHAPES["side"]])
def test_long_pieces_lie_where_the_rules_want_them(wanted, lengths, ends):
    parts = {length: mitred(f"{length:g}", BOX, length, *ends) for length in (400.0, 700.0, 900.0)}
    order, job = order_of(*((part, 2) for part in parts.values()), order=wanted)
    layout = order.lay(job.stock[0], ["700", "900", "400", "700"], 1)
    assert [float(piece.part) for piece in layout.pieces] == lengths


def test_chains_that_share_nothing_follow_the_order_too():
    long, short = frame_side("long", length=1200.0), mitred("short", BOX, 200.0)
    order, job = order_of((long, 2), (short, 2), order=PieceOrder.LONGEST_FIRST)
    laid = order.lay(job.stock[0], ["short", "long", "short", "long"], 1)
    assert [piece.part for piece in laid.pieces] == ["long", "long", "short", "short"]


def test_pieces_without_a_joint_lie_as_they_were_drawn_one_gap_apart():
    order, _ = order_of((mitred("post", BOX, 300.0), 3))
    layout = order.lay(Bar("6 m", 6000.0), ["post"] * 3, 2)
    assert [(p.start, p.flipped, p.turn) for p in layout.pieces] == [
        (0.0, False, 0.0),
        (305.0, False, 0.0),
        (610.0, False, 0.0),
    ]
    assert layout.copies == 2


def test_an_empty_bar_uses_nothing():
    order, _ = order_of((brace(), 1))
    assert order.used([]) == 0.0
