"""The key that a client makes for each request that changes something, so that a request sent twice counts once.

It is a UUID, in the body as `key` or in the header `Idempotency-Key`. Without one the server makes one, and a repeat is
a new request.
"""

from typing import Any
from uuid import UUID

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor.base.errors import BadInput
from shopfloor.base.moves import Event, as_key

HEADER = "Idempotency-Key"
HELP = f"Made by the client for this one request; may be sent as header {HEADER} instead."


class Keyed(serializers.Serializer):
    """A body that may carry the request key; as it stands, of a verb that needs nothing else."""

    key = serializers.UUIDField(required=False, write_only=True, help_text=HELP)


def key_of(request: Request) -> UUID | None:
    """The request's key, or None where the client made none.

    Raises:
        BadInput: it is not a UUID, or header and body name different ones.
    """
    body = request.data.get("key") if hasattr(request.data, "get") else None
    sent = {as_key(key) for key in (request.headers.get(HEADER), body) if key not in (None, "")}
    if len(sent) > 1:
        raise BadInput(f"Body and header {HEADER} name different keys. Send one.", "key")
    return next(iter(sent), None)


def is_repeat(event: type[Event], key: UUID | None) -> bool:
    """Whether an event of this kind was made by the key before."""
    return key is not None and event.objects.filter(key=key).exists()  # type: ignore[attr-defined]


def values_of(serializer: serializers.BaseSerializer[Any]) -> dict[str, Any]:
    """What the body says, checked, without its key."""
    serializer.is_valid(raise_exception=True)
    return {name: value for name, value in serializer.validated_data.items() if name != "key"}


def created_or_known(body: Any, *, is_new: bool) -> Response:
    """201 for something that was created by this request, 200 for what an earlier one with the same key created."""
    return Response(body, 201 if is_new else 200)
