import threading
from dataclasses import replace
from datetime import timedelta

import pytest
from django.utils import timezone

from shopfloor.base import leases
from shopfloor.base.errors import WrongState
from shopfloor.base.leases import beating, claim, send_soon, still_mine, sweep, waiting
from shopfloor.parts import drawing_state
from shopfloor.parts.drawing_state import DRAWING_WORK
from shopfloor.parts.models import Drawing, DrawingState
from shopfloor.parts.tasks import read_drawing
from shopfloor.planning.nest_state import NEST_WORK
from tests.factories.parts import DrawingFactory

READ = "shopfloor.parts.tasks.read_drawing"
LAY_OUT = "shopfloor.planning.tasks.lay_out"


@pytest.fixture(autouse=True)
def no_chores(monkeypatch):
    """The shop's own chores would nest by themselves; tests of chores bring their own."""
    monkeypatch.setattr(leases, "_chores", [])


def queued():
    return DrawingFactory(state=DrawingState.QUEUED, reading=None, kind="")


def lose(row):
    """As if the row's worker had died a while ago."""
    type(row).objects.filter(pk=row.pk).update(lease_until=timezone.now() - timedelta(seconds=1))


@pytest.mark.django_db
class TestClaim:
    def test_it_takes_a_waiting_row_under_a_new_attempt_with_a_lease(self, settings):
        drawing = claim(DRAWING_WORK, queued().pk)
        assert (drawing.state, drawing.attempt, drawing.tries) == (DrawingState.READING, 1, 1)
        left = drawing.lease_until - timezone.now()
        assert timedelta(0) < left <= timedelta(seconds=settings.LEASE_SECONDS)

    def test_a_doubled_message_finds_nothing_to_do(self):
        drawing = queued()
        assert claim(DRAWING_WORK, drawing.pk) is not None
        assert claim(DRAWING_WORK, drawing.pk) is None
        drawing.refresh_from_db()
        assert drawing.attempt == 1

    @pytest.mark.parametrize("state", [DrawingState.USABLE, DrawingState.REFUSED, DrawingState.FAILED])
    def test_a_late_message_for_a_row_that_is_done_does_nothing(self, state):
        drawing = DrawingFactory(state=state)
        assert claim(DRAWING_WORK, drawing.pk) is None
        drawing.refresh_from_db()
        assert (drawing.state, drawing.attempt) == (state, 0)

    def test_a_message_for_a_row_that_is_gone_does_nothing(self):
        assert claim(DRAWING_WORK, 10**9) is None

    def test_no_more_are_taken_than_may_run_at_once(self, shop):
        shop.sheets(on_hand=2)
        assert NEST_WORK.at_once == 1
        first, second = shop.ask(shop.line()), shop.ask(shop.line())
        assert claim(NEST_WORK, first.pk) is not None
        assert claim(NEST_WORK, second.pk) is None
        lose(first)
        assert claim(NEST_WORK, second.pk) is not None


@pytest.mark.django_db
class TestSweep:
    def test_a_row_whose_message_was_lost_gets_another_one(self, sent_messages):
        drawing = queued()
        assert sweep() == 1
        assert sent_messages == [(READ, drawing.pk)]
        assert sweep() == 0, "it is not sent again at once"
        Drawing.objects.update(sent_at=timezone.now() - leases.RESEND - timedelta(seconds=1))
        assert sweep() == 1
        assert sent_messages == [(READ, drawing.pk)] * 2

    def test_a_row_that_lost_its_worker_waits_again_and_is_sent_at_once(self, sent_messages):
        drawing = queued()
        claim(DRAWING_WORK, drawing.pk)
        assert sweep() == 0, "its lease still runs"
        lose(drawing)
        assert sweep() == 1
        drawing.refresh_from_db()
        assert (drawing.state, drawing.attempt, drawing.lease_until) == (DrawingState.QUEUED, 1, None)
        again = claim(DRAWING_WORK, drawing.pk)
        assert (again.attempt, again.tries) == (2, 2)

    def test_a_row_that_lost_its_worker_three_times_fails_with_a_sentence(self):
        drawing = queued()
        for _ in range(3):
            assert claim(DRAWING_WORK, drawing.pk) is not None
            lose(drawing)
            sweep()
        drawing.refresh_from_db()
        assert drawing.state == DrawingState.FAILED
        assert drawing.failure == "The worker stopped in the middle, 3 times. Try again; if it stops again, tell us."
        assert drawing.events.get(verb="give-up").why == drawing.failure

    def test_a_nest_that_fails_so_gives_its_pieces_back(self, shop):
        shop.sheets()
        line = shop.line(4)
        nest = shop.ask(line)
        for _ in range(3):
            claim(NEST_WORK, nest.pk)
            lose(nest)
            sweep()
        nest.refresh_from_db()
        line.refresh_from_db()
        assert nest.state == "failed"
        assert (line.open_count, line.planned_count) == (4, 0)

    def test_a_person_who_asks_again_gives_it_three_more_tries(self, people):
        drawing = DrawingFactory(state=DrawingState.FAILED, tries=3, attempt=3)
        drawing_state.try_again(drawing, by=people.office)
        again = claim(DRAWING_WORK, drawing.pk)
        assert (again.attempt, again.tries) == (4, 1)

    def test_a_beat_that_came_since_the_row_was_found_keeps_it(self):
        drawing = claim(DRAWING_WORK, queued().pk)
        lose(drawing)
        found = Drawing.objects.get(pk=drawing.pk)
        assert still_mine(drawing)
        leases._put_back(DRAWING_WORK, found)
        drawing.refresh_from_db()
        assert drawing.state == DrawingState.READING

    def test_a_row_that_cannot_be_put_back_does_not_keep_the_others_waiting(self, monkeypatch, sent_messages):
        bad, good = claim(DRAWING_WORK, queued().pk), claim(DRAWING_WORK, queued().pk)
        Drawing.objects.filter(pk=bad.pk).update(tries=3)
        lose(bad)
        lose(good)

        def away(*_):
            raise WrongState("Not now.")

        kind = replace(DRAWING_WORK, give_up=away)
        monkeypatch.setattr(leases, "_senders", {kind: read_drawing.delay})
        sweep()
        assert sent_messages == [(READ, good.pk)]

    def test_only_as_many_are_sent_as_may_run_at_once_oldest_first(self, shop, sent_messages):
        shop.sheets(on_hand=3)
        nests = [shop.ask(shop.line()) for _ in range(3)]
        sweep()
        assert sent_messages == [(LAY_OUT, nests[0].pk)]
        claim(NEST_WORK, nests[0].pk)
        assert sweep() == 0

    def test_a_chore_is_done_once_in_its_time(self, monkeypatch):
        done = []
        chore = leases.Chore(lambda: done.append(1), every_s=3600)
        monkeypatch.setattr(leases, "_chores", [chore])
        sweep()
        sweep()
        assert done == [1]
        chore.next_at = 0.0
        sweep()
        assert done == [1, 1]


@pytest.mark.django_db
class TestLateTwin:
    """A worker that was thought dead comes back while another has its row."""

    @pytest.fixture
    def twins(self):
        first = claim(DRAWING_WORK, queued().pk)
        lose(first)
        sweep()
        return first, claim(DRAWING_WORK, first.pk)

    def test_it_cannot_prolong_the_lease(self, twins):
        first, second = twins
        assert not still_mine(first)
        assert still_mine(second)

    def test_it_cannot_save(self, twins):
        first, second = twins
        with pytest.raises(WrongState):
            drawing_state.settle(first, usable=True, fields={"kind": "sheet"}, work=lambda _: None)
        second.refresh_from_db()
        assert (second.state, second.kind) == (DrawingState.READING, "")

    def test_its_failure_does_not_fail_the_row(self, twins):
        first, second = twins
        with pytest.raises(WrongState):
            drawing_state.give_up(first, "It failed.")
        second.refresh_from_db()
        assert (second.state, second.failure) == (DrawingState.READING, "")

    def test_the_other_saves_as_if_nothing_had_happened(self, twins):
        drawing_state.settle(twins[1], usable=True, fields={"kind": "sheet"}, work=lambda _: None)
        assert Drawing.objects.get(pk=twins[1].pk).state == DrawingState.USABLE


@pytest.mark.django_db(transaction=True)
class TestBeating:
    def test_it_prolongs_the_lease_while_the_work_lasts(self, settings):
        settings.LEASE_SECONDS = 0.2
        drawing = claim(DRAWING_WORK, queued().pk)
        first = drawing.lease_until
        with beating(drawing) as lost:
            wait_until(lambda: Drawing.objects.get(pk=drawing.pk).lease_until > first)
            assert not lost.is_set()
        assert threading.active_count() == 1 or all("beat" not in t.name for t in threading.enumerate())

    def test_it_tells_when_the_row_was_given_to_another(self, settings):
        settings.LEASE_SECONDS = 0.2
        drawing = claim(DRAWING_WORK, queued().pk)
        with beating(drawing) as lost:
            Drawing.objects.update(attempt=2)
            assert lost.wait(20)

    def test_it_outlives_a_database_that_is_away_for_a_moment(self, settings, monkeypatch):
        settings.LEASE_SECONDS = 0.2
        drawing = claim(DRAWING_WORK, queued().pk)
        first, failed = drawing.lease_until, threading.Event()

        def once_away(row, **fields):
            if not failed.is_set():
                failed.set()
                raise OSError("away")
            return still_mine(row, **fields)

        monkeypatch.setattr(leases, "still_mine", once_away)
        with beating(drawing) as lost:
            wait_until(lambda: Drawing.objects.get(pk=drawing.pk).lease_until > first)
            assert failed.is_set()
            assert not lost.is_set()


@pytest.mark.django_db(transaction=True)
def test_eight_claims_at_once_take_a_row_once_and_keep_to_the_limit(shop, at_once):
    shop.sheets(on_hand=8)
    nests = [shop.ask(shop.line()) for _ in range(4)]

    def take(number):
        return claim(NEST_WORK, nests[number % 4].pk)

    taken = [row for row in at_once(8, take) if row is not None]
    assert len(taken) == 1
    assert type(nests[0]).objects.filter(state="laying").count() == 1


@pytest.mark.django_db
class TestSendSoon:
    def test_the_message_goes_out_after_the_commit(self, settings, sent_messages, django_capture_on_commit_callbacks):
        settings.BROKER_IS_EMBEDDED = False
        with django_capture_on_commit_callbacks(execute=True):
            send_soon(NEST_WORK, 7)
            assert sent_messages == []
        assert sent_messages == [(LAY_OUT, 7)]

    def test_a_broker_that_is_away_is_no_fault_of_the_request(
        self, settings, monkeypatch, django_capture_on_commit_callbacks
    ):
        settings.BROKER_IS_EMBEDDED = False
        asked = []

        def away(pk):
            asked.append(pk)
            raise ConnectionRefusedError("nobody listens")

        monkeypatch.setitem(leases._senders, NEST_WORK, away)
        with django_capture_on_commit_callbacks(execute=True):
            send_soon(NEST_WORK, 7)
        assert asked == [7]

    def test_nothing_is_sent_to_a_broker_that_lives_in_the_worker(
        self, sent_messages, django_capture_on_commit_callbacks
    ):
        with django_capture_on_commit_callbacks(execute=True):
            send_soon(NEST_WORK, 7)
        assert sent_messages == []


@pytest.mark.django_db
def test_what_waits_is_told_kind_by_kind():
    queued()
    claim(DRAWING_WORK, queued().pk)
    told = next(w for w in waiting() if w.noun == "drawing")
    assert (told.count, told.at_work) == (1, 1)
    assert told.oldest_s >= 0


def wait_until(is_so, seconds=20.0):
    done = threading.Event()
    for _ in range(int(seconds / 0.02)):
        if is_so():
            return
        done.wait(0.02)
    raise AssertionError("It did not happen.")
