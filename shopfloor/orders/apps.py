"""Registers the app with Django."""

from django.apps import AppConfig


class OrdersConfig(AppConfig):
    name = "shopfloor.orders"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from shopfloor.orders.intake import add_lines_of
        from shopfloor.parts.signals import drawing_settled

        def on_settled(drawing: object, **_: object) -> None:
            add_lines_of(drawing)  # type: ignore[arg-type]

        drawing_settled.connect(on_settled, weak=False, dispatch_uid="orders.add_lines_of")
