"""Another nest of the same demand: it holds nothing until it is chosen, and of the two one stays."""

import uuid
from dataclasses import replace

import pytest

from nesting import route
from nesting.model.nest import SheetJob
from shopfloor.base.errors import BadInput, NotYourRole, Refused, WrongState
from shopfloor.base.leases import claim
from shopfloor.floor.release import recall, release
from shopfloor.planning.hand import pieces_from_record, save_by_hand
from shopfloor.planning.hand_change import SheetByHand
from shopfloor.planning.hand_page import board_of
from shopfloor.planning.models import Nest, NestState
from shopfloor.planning.nest_state import NEST_WORK, cancel, give_up, throw_away
from shopfloor.planning.queries_compare import pair_to_compare
from shopfloor.planning.rival import Held, ask_for_rival, choose, live_rival
from shopfloor.planning.run import run
from tests import rows_by_hand
from tests.ledger import assert_all_agrees

pytestmark = pytest.mark.django_db


@pytest.fixture
def line(shop):
    shop.sheets(on_hand=2)
    return shop.line(quantity=70)


@pytest.fixture
def nest(shop, line):
    return shop.ready_nest(line)


@pytest.fixture
def rival(shop, nest):
    """A rival that is laid out."""
    rival = ask_for_rival(nest, by=shop.people.office)
    run(rival.pk)
    rival.refresh_from_db()
    assert rival.state == NestState.PROPOSED, rival.failure
    return rival


def counts(line):
    line.refresh_from_db()
    return line.planned_count, line.nested_count, line.open_count


def test_a_rival_takes_no_piece_and_no_sheet_at_any_step(shop, nest, line):
    """The nest holds both sheets there are, so that the rival can only be laid out on those."""
    assert counts(line) == (0, 70, 0)
    rival = ask_for_rival(nest, by=shop.people.office)
    assert counts(line) == (0, 70, 0)
    assert_all_agrees()
    run(rival.pk)
    rival.refresh_from_db()
    assert (rival.state, rival.placed_count, rival.seed) == (NestState.PROPOSED, 70, nest.seed + 1)
    assert counts(line) == (0, 70, 0)
    assert live_rival(nest) == rival
    assert_all_agrees()


def test_the_rival_is_chosen_and_the_nest_thrown_away(shop, nest, rival, line):
    choose(rival, by=shop.people.office)
    nest.refresh_from_db()
    rival.refresh_from_db()
    assert (nest.state, rival.state) == (NestState.THROWN_AWAY, NestState.READY)
    assert counts(line) == (0, 70, 0)
    assert_all_agrees()
    loads = release(rival, by=shop.people.office)
    assert sum(load.workpieces.count() for load in loads) == 70
    assert_all_agrees()


def test_a_rival_may_fill_room_with_what_its_nest_holds_for_it(shop):
    shop.sheets(on_hand=3, length_mm=330, width_mm=220)
    wanted, other = shop.line(4), shop.line(12)
    nest = shop.ready_nest(wanted, only={wanted.pk: 4}, fill={other.pk: 12}, together=True)
    assert (nest.placed_count, nest.filled_count) == (9, 5)
    rival = ask_for_rival(nest, by=shop.people.office)
    run(rival.pk)
    rival.refresh_from_db()
    assert (rival.wanted_count, rival.placed_count, rival.filled_count, rival.kits_together) == (4, 9, 5, True)
    assert_all_agrees()
    choose(rival, by=shop.people.office)
    assert {d.line_id: (d.count, d.fill_count) for d in rival.demands.all()} == {wanted.pk: (4, 0), other.pk: (5, 5)}
    assert counts(other) == (0, 5, 7)
    assert_all_agrees()


def test_the_nest_is_kept_and_the_rival_thrown_away(shop, nest, rival, line):
    throw_away(rival, by=shop.people.office)
    nest.refresh_from_db()
    assert nest.state == NestState.READY
    assert counts(line) == (0, 70, 0)
    assert_all_agrees()


def test_what_the_rival_could_not_place_is_open_again(shop, nest, rival, line):
    record = rival.result
    dropped = record["sheets"].pop()
    record["unplaced"] = [{"part": line.part.name, "count": len(dropped["placements"]), "reason": "no room"}]
    Nest.objects.filter(pk=rival.pk).update(result=record, placed_count=63)
    rival.layouts.filter(position=2).delete()
    choose(rival, by=shop.people.office)
    assert counts(line) == (0, 63, 7)
    assert_all_agrees()


def test_the_chosen_nest_can_have_a_rival_of_its_own(shop, nest, rival):
    choose(rival, by=shop.people.office)
    third = ask_for_rival(Nest.objects.get(pk=rival.pk), by=shop.people.office)
    run(third.pk)
    choose(third, by=shop.people.office)
    third.refresh_from_db()
    assert third.state == NestState.READY
    assert_all_agrees()


def test_there_is_one_rival_at_a_time(shop, nest, rival):
    with pytest.raises(Refused, match="another nest beside") as refused:
        ask_for_rival(nest, by=shop.people.office)
    assert refused.value.code == "rival-there"
    throw_away(rival, by=shop.people.office)
    assert ask_for_rival(nest, by=shop.people.office).seed == rival.seed + 1


def test_asked_for_or_chosen_twice_with_one_key_counts_once(shop, nest):
    key, second = uuid.uuid4(), uuid.uuid4()
    rival = ask_for_rival(nest, by=shop.people.office, key=key)
    assert ask_for_rival(nest, by=shop.people.office, key=key) == rival
    with pytest.raises(BadInput, match="used for something else"):
        ask_for_rival(rival, by=shop.people.office, key=key)
    run(rival.pk)
    choose(rival, by=shop.people.office, key=second)
    choose(rival, by=shop.people.office, key=second)
    assert Nest.objects.filter(state=NestState.READY).count() == 1
    assert_all_agrees()


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_chosen_and_released_at_once_one_of_both_happens(shop, nest, rival, at_once):
    def one(number):
        try:
            if number % 2:
                choose(Nest.objects.get(pk=rival.pk), by=shop.people.office)
            else:
                release(Nest.objects.get(pk=nest.pk), by=shop.people.office)
        except WrongState:
            return 0
        return 1

    assert sum(at_once(4, one)) == 1
    assert_all_agrees()


def test_releasing_or_throwing_the_nest_away_drops_the_rival(shop, nest, rival):
    release(nest, by=shop.people.office)
    rival.refresh_from_db()
    assert rival.state == NestState.THROWN_AWAY
    recall(nest, by=shop.people.office)
    waiting = ask_for_rival(nest, by=shop.people.office)
    throw_away(nest, by=shop.people.office)
    waiting.refresh_from_db()
    assert waiting.state == NestState.THROWN_AWAY
    with pytest.raises(WrongState):
        choose(rival, by=shop.people.office)
    assert_all_agrees()


def test_a_rival_that_is_cancelled_or_comes_to_nothing_gives_nothing_back(shop, nest, line):
    cancel(ask_for_rival(nest, by=shop.people.office), by=shop.people.office)
    second = ask_for_rival(nest, by=shop.people.office)
    give_up(claim(NEST_WORK, second.pk), "No engine.")
    assert counts(line) == (0, 70, 0)
    throw_away(Nest.objects.get(pk=second.pk), by=shop.people.office)
    assert counts(line) == (0, 70, 0)
    assert_all_agrees()


def test_a_rival_of_other_pieces_is_not_chosen(shop, nest, rival):
    pieces = pieces_from_record(board_of(nest, 1)["pieces"])
    save_by_hand(nest, SheetByHand(0, 1, pieces[:-1]), by=shop.people.office)
    with pytest.raises(Refused, match="holds other pieces") as refused:
        choose(rival, by=shop.people.office)
    assert refused.value.code == "demand-changed"
    nest.refresh_from_db()
    assert nest.state == NestState.READY
    assert_all_agrees()


def test_pieces_moved_by_hand_alone_do_not_stand_in_the_way(shop, nest, rival):
    pieces = pieces_from_record(board_of(nest, 2)["pieces"])
    far = [type(p)(p.part, p.x, p.y + 200.0, p.turn, p.mirrored) for p in pieces]
    save_by_hand(nest, SheetByHand(0, 2, tuple(far)), by=shop.people.office)
    choose(rival, by=shop.people.office)
    assert_all_agrees()


def test_a_nest_without_rival_or_not_ready_is_refused(shop, nest):
    with pytest.raises(WrongState, match="not laid out beside"):
        choose(nest, by=shop.people.office)
    release(nest, by=shop.people.office)
    with pytest.raises(WrongState, match="not ready any more"):
        ask_for_rival(nest, by=shop.people.office)


@pytest.mark.parametrize("budget_s", [0, 1, 601])
def test_a_budget_out_of_range_is_refused(shop, nest, budget_s):
    with pytest.raises(BadInput):
        ask_for_rival(nest, by=shop.people.office, budget_s=budget_s)


def test_a_wrong_role_is_refused(shop, nest, rival):
    for person in (shop.people.inspector, shop.people.nobody):
        with pytest.raises(NotYourRole):
            ask_for_rival(nest, by=person)
        with pytest.raises(NotYourRole):
            choose(rival, by=person)


def test_both_are_told_in_the_numbers_they_are_compared_by(shop, nest, rival):
    pair = pair_to_compare(rival.pk)
    rows = {row.what: (row.nest, row.rival, row.better) for row in pair.rows}
    # Source: by hand, 70 plates of 100 x 60 on two sheets of 1000 x 500, each plate 320 mm round and pierced once.
    assert rows["Yield"] == (pytest.approx(0.42), pytest.approx(0.42), "")
    assert rows["Sheets"] == (2, 2, "")
    assert rows["Cut length"] == (pytest.approx(22_400.0), pytest.approx(22_400.0), "")
    assert rows["Pierces"] == (70, 70, "")
    assert rows["Pieces placed"] == (70, 70, "")
    assert pair.are_alike
    Nest.objects.filter(pk=rival.pk).update(yield_share=0.5)
    better = pair_to_compare(rival.pk)
    assert {row.better for row in better.rows if row.what == "Yield"} == {"rival"}
    assert not better.are_alike
    assert pair_to_compare(nest.pk) is None


def test_where_orders_are_kept_together_the_two_are_compared_by_that(shop):
    # Source: by hand, a sheet of 330 x 220 takes nine plates: the second order begins on the first one's sheet.
    shop.sheets(on_hand=2, length_mm=330, width_mm=220)
    first, second = shop.line(6), shop.line(7)
    nest = shop.ready_nest(first, together=True)
    rival = ask_for_rival(nest, by=shop.people.office)
    run(rival.pk)
    record = Nest.objects.get(pk=rival.pk).result
    # As if the rival had laid the second order on a sheet of its own.
    record["sheets"][1]["placements"] += record["sheets"][0]["placements"][6:]
    del record["sheets"][0]["placements"][6:]
    Nest.objects.filter(pk=rival.pk).update(result=record)
    rows = {row.what: (row.nest, row.rival, row.better) for row in pair_to_compare(rival.pk).rows}
    assert rows["Orders on several sheets"] == (1, 0, "rival")
    assert second.order != first.order


@pytest.fixture
def rest_beside(monkeypatch):
    """The rest goes onto a further sheet in rows; the room round what is held is left alone, which rows do not know."""

    def lay_out(job, **more):
        further = tuple(sheet for sheet in job.stock if ", room " not in sheet.name)
        answer = rows_by_hand.lay_out(SheetJob(further or job.stock, job.rules, job.demands), **more)
        return replace(answer, job=job)

    monkeypatch.setattr(route, "lay_out", lay_out)


def test_held_pieces_stay_and_the_rest_is_laid_out_again(shop, nest, line, rest_beside):
    before = nest.noun.layouts[0].placements
    shop.sheets(on_hand=3)
    rival = ask_for_rival(nest, by=shop.people.office, held=Held(0, 1, frozenset({2, 5})))
    run(rival.pk)
    rival.refresh_from_db()
    assert rival.state == NestState.PROPOSED, rival.failure
    after = rival.noun.layouts[0].placements
    assert after == (before[1], before[4])
    assert rival.placed_count == 70
    assert route.check_nest(rival.noun) == ()
    assert rival.events.order_by("pk").first().why == f"beside {nest}, 2 pieces held in place"
    assert_all_agrees()
    choose(rival, by=shop.people.office)
    assert counts(line) == (0, 70, 0)
    assert_all_agrees()


def test_pieces_held_in_a_nest_that_was_changed_since_are_not_laid_around(shop, nest):
    rival = ask_for_rival(nest, by=shop.people.office, held=Held(0, 1, frozenset({1})))
    pieces = pieces_from_record(board_of(nest, 1)["pieces"])
    save_by_hand(nest, SheetByHand(0, 1, pieces[:-1]), by=shop.people.office)
    run(rival.pk)
    rival.refresh_from_db()
    assert rival.state == NestState.FAILED
    assert "changed meanwhile" in rival.failure
    with pytest.raises(WrongState, match="changed by somebody else"):
        ask_for_rival(nest, by=shop.people.office, held=Held(0, 1, frozenset({1})))
    assert_all_agrees()


@pytest.mark.parametrize(
    "held",
    [Held(0, 1, frozenset()), Held(0, 1, frozenset({0})), Held(0, 1, frozenset({64})), Held(0, 9, frozenset({1}))],
)
def test_held_pieces_that_are_none_are_refused(shop, nest, held):
    with pytest.raises(BadInput):
        ask_for_rival(nest, by=shop.people.office, held=held)
    assert not nest.rivals.exists()


def test_a_nest_that_is_held_as_a_whole_is_refused(shop):
    shop.sheets()
    nest = shop.ready_nest(shop.line(quantity=3))
    with pytest.raises(BadInput, match="nothing to lay out again"):
        ask_for_rival(nest, by=shop.people.office, held=Held(0, 1, frozenset({1, 2, 3})))
