"""Registers the app with Django."""

from django.apps import AppConfig


class BaseConfig(AppConfig):
    name = "shopfloor.base"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from shopfloor.base.leases import register_chore
        from shopfloor.base.worker_seen import MARK_EVERY_S, mark_worker_seen

        register_chore(mark_worker_seen, every_s=MARK_EVERY_S)
