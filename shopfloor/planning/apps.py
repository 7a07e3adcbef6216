"""Registers the app with Django."""

from django.apps import AppConfig


class PlanningConfig(AppConfig):
    name = "shopfloor.planning"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from shopfloor.base.leases import register, register_chore
        from shopfloor.planning.by_itself import nest_what_is_due
        from shopfloor.planning.nest_state import NEST_WORK
        from shopfloor.planning.tasks import lay_out

        register(NEST_WORK, lay_out.delay)
        register_chore(nest_what_is_due, every_s=30)
