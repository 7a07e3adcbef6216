"""Who did what, when, as events tell it: the same form for orders, drawings, stock, nests and loads."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response


class EventSerializer(serializers.Serializer):
    """One thing that happened: added, never changed. `actor` is null for what the server did by itself."""

    key = serializers.UUIDField()
    at = serializers.DateTimeField()
    actor = serializers.IntegerField(source="actor_id", allow_null=True)
    actor_name = serializers.CharField(source="actor", default=None, allow_null=True)
    verb = serializers.CharField()
    from_state = serializers.CharField()
    to_state = serializers.CharField()
    why = serializers.CharField()


class WithHistory:
    """Adds `…/{id}/history/` to a viewset whose rows have `events`."""

    @extend_schema(responses=EventSerializer(many=True), filters=False)
    @action(detail=True, filter_backends=())
    def history(self, request: Request, pk: int) -> Response:
        """What happened to it, last first."""
        row: Any = self.get_object()  # type: ignore[attr-defined]
        events: QuerySet[Any] = row.events.select_related("actor").order_by("-at", "-pk")
        page = self.paginate_queryset(events)  # type: ignore[attr-defined]
        return self.get_paginated_response(EventSerializer(page, many=True).data)  # type: ignore[attr-defined]
