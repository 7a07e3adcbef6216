import uuid

import pytest

from shopfloor.base.errors import NotYourRole, WrongState
from shopfloor.parts.drawing_state import give_up, settle, try_again
from shopfloor.parts.models import DrawingEvent, DrawingState
from tests.factories.parts import DrawingFactory

pytestmark = pytest.mark.django_db


class TestTryAgain:
    def test_a_failed_drawing_waits_again(self, people, settings, sent_messages, django_capture_on_commit_callbacks):
        settings.BROKER_IS_EMBEDDED = False
        drawing = DrawingFactory(state=DrawingState.FAILED, failure="It failed.", tries=3)
        with django_capture_on_commit_callbacks(execute=True):
            try_again(drawing, by=people.office)
        drawing.refresh_from_db()
        assert (drawing.state, drawing.failure, drawing.tries) == (DrawingState.QUEUED, "", 0)
        assert sent_messages == [("shopfloor.parts.tasks.read_drawing", drawing.pk)]

    @pytest.mark.parametrize("state", [s for s in DrawingState if s != DrawingState.FAILED])
    def test_in_any_other_state_it_is_refused(self, people, state):
        drawing = DrawingFactory(state=state)
        with pytest.raises(WrongState):
            try_again(drawing, by=people.office)
        drawing.refresh_from_db()
        assert drawing.state == state

    def test_it_is_office_work(self, people):
        drawing = DrawingFactory(state=DrawingState.FAILED)
        for who in (people.operator, people.inspector, people.nobody):
            with pytest.raises(NotYourRole):
                try_again(drawing, by=who)
        try_again(drawing, by=people.manager)

    def test_sent_twice_it_counts_once(self, people):
        drawing, key = DrawingFactory(state=DrawingState.FAILED), uuid.uuid4()
        try_again(drawing, by=people.office, key=key)
        try_again(drawing, by=people.office, key=key)
        assert DrawingEvent.objects.filter(drawing=drawing).count() == 1


@pytest.mark.parametrize("state", [s for s in DrawingState if s != DrawingState.READING])
def test_only_a_drawing_that_is_being_read_comes_to_an_end(state):
    drawing = DrawingFactory(state=state)
    with pytest.raises(WrongState):
        settle(drawing, usable=True, fields={}, work=lambda _: None)
    drawing.refresh_from_db()
    assert drawing.state == state


@pytest.mark.parametrize("state", [DrawingState.USABLE, DrawingState.REFUSED, DrawingState.FAILED])
def test_a_drawing_that_has_come_to_an_end_is_not_given_up(state):
    drawing = DrawingFactory(state=state)
    with pytest.raises(WrongState):
        give_up(drawing, "It failed.")
    drawing.refresh_from_db()
    assert (drawing.state, drawing.failure) == (state, "")
