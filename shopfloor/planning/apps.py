"""Registers the app with Django."""

from django.apps import AppConfig


class PlanningConfig(AppConfig):
    name = "shopfloor.planning"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from shopfloor.base.leases import register, register_chore
        from shopfloor.planning.by_itself import nest_what_is_due
        from shopfloor.planning.nest_state import NEST_WORK

        register(NEST_WORK)
        register_chore(nest_what_is_due, every_s=30)
