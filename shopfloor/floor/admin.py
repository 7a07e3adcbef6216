"""The floor's rows to look at. They change by marks alone, so that history and counts stay true."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from shopfloor.floor.models import FloorEvent, Load, Workpiece


class LookOnly(admin.ModelAdmin):
    def has_add_permission(self, request: HttpRequest, *_: Any) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, *_: Any) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, *_: Any) -> bool:
        return False


@admin.register(Load)
class LoadAdmin(LookOnly):
    list_display = ("__str__", "machine", "state", "due_on", "pulled_by", "heat_no")
    list_filter = ("state", "machine")
    list_select_related = ("layout__nest", "machine", "pulled_by")
    search_fields = ("heat_no", "layout__nest__id")


@admin.register(Workpiece)
class WorkpieceAdmin(LookOnly):
    list_display = ("__str__", "line", "state", "reason")
    list_filter = ("state", "reason")
    list_select_related = ("load__layout__nest", "line__part")
    search_fields = ("line__part__name",)


@admin.register(FloorEvent)
class FloorEventAdmin(LookOnly):
    list_display = ("at", "verb", "load", "actor", "from_state", "to_state", "why")
    list_filter = ("verb", "actor")
    list_select_related = ("load__layout__nest", "actor")
