"""Registers the app with Django."""

from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "shopfloor.api"
    default_auto_field = "django.db.models.BigAutoField"
