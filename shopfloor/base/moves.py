"""Moves a row from one state to another by compare-and-set, and writes the event that tells of it.

Every state machine of the shop goes through `move`. The event carries a key made by whoever asked; the same key sent
twice gives back the first event and changes nothing, so a tablet may repeat a request until it hears an answer.
"""

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db import IntegrityError, models, transaction

from shopfloor.base.errors import BadInput, WrongState


class Event(models.Model):
    """One thing that happened: added, never changed or deleted."""

    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    at = models.DateTimeField(auto_now_add=True)
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    verb = models.CharField(max_length=40)
    from_state = models.CharField(max_length=20, blank=True)
    to_state = models.CharField(max_length=20, blank=True)
    why = models.TextField(blank=True)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return f"{self.verb} at {self.at:%Y-%m-%d %H:%M}"


@dataclass(frozen=True)
class Machine:
    """A state machine: which event it writes, in which field the event names the row, and the moves it allows.

    `moves` maps a verb to the states it may start from and the state it ends in.
    """

    noun: str
    event: type[Event]
    row_field: str
    moves: Mapping[str, tuple[frozenset[str], str]]


def as_key(key: object) -> uuid.UUID:
    """The key of a request as UUID; a fresh one where the caller made none.

    Raises:
        BadInput: it is not a UUID.
    """
    if key is None or key == "":
        return uuid.uuid4()
    try:
        return key if isinstance(key, uuid.UUID) else uuid.UUID(str(key))
    except ValueError as fault:
        raise BadInput("The request key is not a UUID. Reload the page and try again.", "key") from fault


def earlier(machine: Machine, row: models.Model, key: uuid.UUID, verb: str) -> Event | None:
    """The event that this key made before, if any.

    Raises:
        BadInput: the key was used for something else.
    """
    found = machine.event.objects.filter(key=key).first()  # type: ignore[attr-defined]
    if found is None:
        return None
    if getattr(found, f"{machine.row_field}_id") != row.pk or found.verb != verb:
        raise BadInput("This request key was used for something else. Reload the page and try again.", "key")
    return found


def move(
    machine: Machine,
    row: Any,
    verb: str,
    *,
    by: Any,
    key: object = None,
    why: str = "",
    work: Callable[[Any], Mapping[str, Any] | None] | None = None,
    set_fields: Mapping[str, Any] | None = None,
    only_if: Mapping[str, Any] | None = None,
) -> Event:
    """The event of the move, new or, for a key sent before, the first one.

    In one transaction: the row's state changes where it still is what it was and the row is as `only_if` says (lookup
    and value), with `set_fields`; `work(row)` does what belongs to the move and may return further fields of the
    event; the event is written. If `work` refuses, nothing has happened, and `row` is as it was.

    Raises:
        WrongState: the row is in no state from which the verb leads, or moved meanwhile.
        BadInput: the key is malformed or was used for something else.
    """
    request_key = as_key(key)
    if found := earlier(machine, row, request_key, verb):
        return found
    allowed, to_state = machine.moves[verb]
    model = type(row)
    fields = {"state": to_state, **(set_fields or {})}
    before = {name: getattr(row, name) for name in fields}
    try:
        with transaction.atomic():
            current = model.objects.filter(pk=row.pk).values_list("state", flat=True).first()
            if current not in allowed:
                raise WrongState(_no_longer(machine.noun, row, verb, current))
            if model.objects.filter(pk=row.pk, state=current, **(only_if or {})).update(**fields) != 1:
                raise WrongState(_no_longer(machine.noun, row, verb, None))
            for name, value in fields.items():
                setattr(row, name, value)
            extra = dict(work(row) or {}) if work else {}
            return machine.event.objects.create(  # type: ignore[attr-defined]
                key=request_key,
                actor=by,
                verb=verb,
                from_state=current,
                to_state=to_state,
                why=why,
                **{machine.row_field: row},
                **extra,
            )
    except Exception as fault:
        for name, value in before.items():
            setattr(row, name, value)
        # The same request twice at the same time: the one that lost finds what the other wrote.
        if isinstance(fault, IntegrityError | WrongState) and (found := earlier(machine, row, request_key, verb)):
            row.refresh_from_db()
            return found
        raise


def _no_longer(noun: str, row: object, verb: str, state: str | None) -> str:
    doing = verb.replace("-", " ")
    if state is None:
        return f"{row}: it was changed by somebody else just now. Look again before you {doing}."
    return f"{row}: it is {state.replace('_', ' ')}, so this cannot be done ({doing} {noun}). Reload the page."
