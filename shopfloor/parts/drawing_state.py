"""The states of a drawing and the verbs that change them. Nothing else writes `Drawing.state`, save claiming it."""

from collections.abc import Callable

from django.utils import timezone

from shopfloor.accounts.models import User
from shopfloor.base.leases import WorkKind, send_soon
from shopfloor.base.moves import Machine, move
from shopfloor.base.roles import require
from shopfloor.parts.models import Drawing, DrawingEvent, DrawingState

DRAWING = Machine(
    "drawing",
    DrawingEvent,
    "drawing",
    {
        "found-usable": (frozenset({DrawingState.READING}), DrawingState.USABLE),
        "refuse": (frozenset({DrawingState.READING}), DrawingState.REFUSED),
        "give-up": (frozenset({DrawingState.READING}), DrawingState.FAILED),
        "try-again": (frozenset({DrawingState.FAILED}), DrawingState.QUEUED),
    },
)


def settle(drawing: Drawing, *, usable: bool, fields: dict[str, object], work: Callable[[Drawing], None]) -> None:
    """The reading came to an end: `fields` are stored and `work` adds the parts, in the same transaction.

    Raises:
        WrongState: another attempt holds the drawing by now.
    """
    verb = "found-usable" if usable else "refuse"
    stored, mine = {**fields, "read_at": timezone.now(), "failure": ""}, {"attempt": drawing.attempt}
    move(DRAWING, drawing, verb, by=None, set_fields=stored, only_if=mine, work=work)


def give_up(drawing: Drawing, sentence: str) -> None:
    """Reading failed for a reason that does not lie in the file.

    Raises:
        WrongState: another attempt holds the drawing by now.
    """
    fields, mine = {"failure": sentence}, {"attempt": drawing.attempt}
    move(DRAWING, drawing, "give-up", by=None, why=sentence, set_fields=fields, only_if=mine)


def try_again(drawing: Drawing, *, by: User, key: object = None) -> None:
    """Queues a failed drawing once more."""
    require(by, "enter-order")
    fields = {"tries": 0, "sent_at": None, "queued_at": timezone.now(), "failure": ""}
    move(DRAWING, drawing, "try-again", by=by, key=key, set_fields=fields)
    send_soon(DRAWING_WORK, drawing.pk)


DRAWING_WORK = WorkKind(Drawing, queued=DrawingState.QUEUED, running=DrawingState.READING, give_up=give_up)
