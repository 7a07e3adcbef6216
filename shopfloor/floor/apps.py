"""Registers the app with Django."""

from django.apps import AppConfig


class FloorConfig(AppConfig):
    name = "shopfloor.floor"
    default_auto_field = "django.db.models.BigAutoField"
