"""Registers the app with Django."""

from django.apps import AppConfig


class PartsConfig(AppConfig):
    name = "shopfloor.parts"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from shopfloor.base.leases import register
        from shopfloor.parts.drawing_state import DRAWING_WORK
        from shopfloor.parts.tasks import read_drawing

        register(DRAWING_WORK, read_drawing.delay)
