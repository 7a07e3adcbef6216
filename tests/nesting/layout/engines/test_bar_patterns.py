"""Bars laid by patterns, held to optima known by hand or published, and whole nests judged by the geometry kernel."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import BadValue
from nesting.layout.engine import bars_from_record, is_finished
from nesting.layout.engines.bar_patterns import solve_record
from nesting.model.nest import BarNest, BarRules
from nesting.model.stock import Bar
from nesting.records.jobs import job_to_record
from nesting.route import lay_out
from nesting.verify.bar_check import check_bars
from tests.mitred import BOX, CHANNEL, ROUND, TALL, Solids, brace, depth, frame_side, mitred, mitred_job
from tests.nesting.layout.test_bar_layout import ROLLS
from tests.shop_parts import bar_job, sheet_job

pytestmark = pytest.mark.slow


def solve(job, seconds=30.0, seed=0, extra_gap=0.0):
    told = []
    request = {"job": job_to_record(job), "seconds": seconds, "seed": seed, "extra_gap_mm": extra_gap}
    answer = solve_record(request, told.append)
    return BarNest(job, bars_from_record(answer)), answer, told


def bars_of(nest):
    return sum(layout.copies for layout in nest.layouts)


def test_without_mitres_it_comes_to_the_published_optimum():
    # Source: the 5600 mm paper roll case of Wikipedia, "Cutting stock problem": 73 master rolls.
    job = bar_job(*ROLLS, stock=[(5600.0, None)])
    nest, answer, _ = solve(job, seconds=60.0)
    assert (bars_of(nest), answer["bound"]) == (73, 73 * 5600.0)
    assert is_finished(answer)
    assert check_bars(nest) == ()


@pytest.mark.parametrize("section", [BOX, TALL, ROUND, CHANNEL], ids=str)
def test_a_row_of_frame_sides_is_laid_without_loss(section):
    # Source: by hand. Each further side takes its length and the gap less the depth of its mitre, so that a bar of just
    # that length holds nine of them, and one that is a millimetre shorter eight.
    deep = depth(section, 45.0)
    long = 700.0 + 8 * (705.0 - deep)
    job = mitred_job((frame_side(section=section, length=700.0), 36), bars=[Bar("bar", long)])
    nest, answer, _ = solve(job)
    assert (bars_of(nest), answer["bound"]) == (4, 4 * long)
    assert check_bars(nest) == ()
    shorter, *_ = solve(mitred_job((frame_side(section=section, length=700.0), 32), bars=[Bar("bar", long - 1.0)]))
    assert {len(layout.pieces) for layout in shorter.layouts} == {8}


def test_halves_pair_up():
    # Source: by hand: a mitred and a square end each; two with their mitres together take 1000 + 5 - 40 mm.
    part = mitred("half", BOX, 500.0, (45.0, 90.0))
    job = mitred_job((part, 8), bars=[Bar("bar", 965.0 + 5.0 + 965.0)])
    nest, answer, _ = solve(job)
    assert (bars_of(nest), answer["bound"]) == (2, 2 * 1935.0)
    assert check_bars(nest) == ()


def test_one_cut_for_two_square_ends_makes_room_for_one_more():
    # Source: by hand: ten pieces of 100 mm and nine cuts of 0.5 mm.
    parts = [(mitred("post", BOX, 100.0), 20)]
    shared = mitred_job(*parts, rules=BarRules(5.0, shared_cut=0.5), bars=[Bar("bar", 1004.5)])
    nest, answer, _ = solve(shared)
    assert (bars_of(nest), answer["bound"]) == (2, 2009.0)
    assert check_bars(nest) == ()


def test_dead_end_lead_end_and_gap_hold_for_mitres_too():
    # Source: by hand: 10 trimmed, two sides of 600 with a joint of 5 - 40 mm, 300 held.
    rules = BarRules(5.0, dead_end=300.0, lead_end=10.0)
    nest, *_ = solve(mitred_job((frame_side(), 2), rules=rules, bars=[Bar("bar", 10.0 + 1165.0 + 300.0)]))
    assert [piece.start for piece in nest.layouts[0].pieces] == pytest.approx([10.0, 575.0])
    nest, *_ = solve(mitred_job((frame_side(), 2), rules=rules, bars=[Bar("bar", 10.0 + 1164.0 + 300.0)]))
    assert bars_of(nest) == 2


def test_several_lengths_counts_and_costs_are_weighed():
    # Source: by hand: the remnants hold a pair (1165 mm) and one side, and cost less than any bar.
    bars = [Bar("6 m", 6000.0), Bar("3 m", 3000.0, 2), Bar("left 1", 1165.0, 1, 10.0), Bar("left 2", 700.0, 1, 5.0)]
    nest, answer, _ = solve(mitred_job((frame_side(), 3), bars=bars))
    assert sorted((layout.stock, len(layout.pieces)) for layout in nest.layouts) == [("left 1", 2), ("left 2", 1)]
    assert answer["bound"] <= 15.0
    # Five sides take 2865 mm: one bar of 3 m, or a remnant and a half-empty one.
    more, *_ = solve(mitred_job((frame_side(), 5), bars=bars[:2]))
    assert [(layout.stock, layout.copies) for layout in more.layouts] == [("3 m", 1)]


def test_where_bars_are_short_as_many_pieces_as_fit_are_laid():
    # Source: by hand: the bar holds four sides (4·600 - 3·35 mm) or two and one long one, so four is the most.
    job = mitred_job((frame_side(), 9), (frame_side("long", length=1500.0), 2), bars=[Bar("bar", 2295.0, 1)])
    nest, answer, _ = solve(job, seconds=3.0)
    assert nest.placed_count == 4
    assert check_bars(BarNest(job, nest.layouts)) != ()  # the counts are for the supervisor to tell
    assert answer["bound"] is None or answer["bound"] >= 2295.0


def test_an_extra_gap_is_kept_beside_the_rules_gap():
    nest, answer, _ = solve(mitred_job((frame_side(), 2), bars=[Bar("bar", 1165.005)]), seconds=2.0, extra_gap=0.01)
    assert bars_of(nest) == 2
    assert answer["bound"] is None or answer["bound"] <= 2 * 1165.005


def test_a_sheet_job_is_refused():
    with pytest.raises(BadValue, match="a bar job is needed"):
        solve_record({"job": job_to_record(sheet_job()), "seconds": 1.0, "seed": 0}, lambda _: None)


shapes = st.sampled_from([None, (45.0, 90.0), (45.0, 270.0), (30.0, 90.0), (45.0, 0.0), (22.5, 180.0)])


@st.composite
def random_jobs(draw):
    section = draw(st.sampled_from([BOX, TALL, ROUND, CHANNEL]))
    parts = [
        (mitred(f"p{k}", section, draw(st.floats(300.0, 1500.0)), draw(shapes), draw(shapes)), draw(st.integers(1, 6)))
        for k in range(draw(st.integers(1, 4)))
    ]
    rules = BarRules(draw(st.sampled_from([0.0, 3.0, 5.0])), 250.0, 15.0, shared_cut=draw(st.sampled_from([None, 0.0])))
    return mitred_job(*parts, rules=rules, bars=[Bar("3 m", 3000.0), Bar("6 m", 6000.0, draw(st.integers(1, 3)))])


@given(random_jobs())
@settings(max_examples=12, deadline=None)
def test_whatever_is_mitred_passes_the_check_and_no_bound_is_false(job):
    nest, answer, told = solve(job, seconds=2.0)
    assert check_bars(nest) == ()
    prices = {bar.name: bar.price for bar in job.stock}
    cost = sum(prices[layout.stock] * layout.copies for layout in nest.layouts)
    assert answer["bound"] is None or answer["bound"] <= cost * (1 + 1e-9)
    assert told


@pytest.mark.parametrize("section", [BOX, TALL, ROUND, CHANNEL], ids=str)
def test_solids_of_a_laid_bar_share_no_volume_and_keep_the_gap(section):
    chance = random.Random(str(section))
    ends = [(45.0, 90.0), (45.0, 270.0), (30.0, 90.0), None]
    parts = [
        (mitred(f"p{k}", section, chance.uniform(300.0, 700.0), chance.choice(ends), chance.choice(ends)), 3)
        for k in range(3)
    ] + [(frame_side(section=section, length=400.0), 3), (brace(section=section, length=410.0), 2)]
    job = mitred_job(*parts, rules=BarRules(4.0, 100.0, 10.0))
    nest = lay_out(job, budget=6.0)
    assert not nest.unplaced
    solids = Solids(job)
    for layout in nest.layouts:
        assert max(solids.shared_volumes(layout), default=0.0) < 1e-6
        # Source: by hand: square to a slope of 45° a gap along the bar of 4 mm is 4·cos 45° wide.
        assert min(solids.distances(layout), default=9.0) >= 4.0 * 0.7071 - 2e-3


def test_a_mutated_nest_is_found_by_check_and_kernel_alike():
    from dataclasses import replace

    job = mitred_job((frame_side(), 3), (brace(), 3))
    nest = lay_out(job, budget=6.0)
    (layout,) = nest.layouts
    solids = Solids(job)
    for k in range(1, len(layout.pieces)):
        piece = layout.pieces[k]
        row = [*layout.pieces[:k], *(replace(p, start=p.start - 5.1) for p in layout.pieces[k:])]
        shifted = replace(layout, pieces=tuple(row))
        assert {f.code for f in check_bars(replace(nest, layouts=(shifted,)))} >= {"overlap"}
        assert max(solids.shared_volumes(shifted)) > 1.0
        wrong = replace(piece, turn=(piece.turn + 180.0) % 360.0)
        turned = replace(layout, pieces=(*layout.pieces[:k], wrong, *layout.pieces[k + 1 :]))
        assert {f.code for f in check_bars(replace(nest, layouts=(turned,)))} == {"overlap"}
        assert max(solids.shared_volumes(turned)) > 1.0
        nearer = replace(piece, start=piece.start - 0.1)
        near = replace(layout, pieces=(*layout.pieces[:k], nearer, *layout.pieces[k + 1 :]))
        assert {f.code for f in check_bars(replace(nest, layouts=(near,)))} == {"gap-short"}
