"""Registers the app with Django."""

from django.apps import AppConfig


class StockConfig(AppConfig):
    name = "shopfloor.stock"
    default_auto_field = "django.db.models.BigAutoField"
