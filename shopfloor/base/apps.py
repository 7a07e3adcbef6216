"""Registers the app with Django."""

from django.apps import AppConfig


class BaseConfig(AppConfig):
    name = "shopfloor.base"
    default_auto_field = "django.db.models.BigAutoField"
