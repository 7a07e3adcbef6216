"""Registers the app with Django."""

from django.apps import AppConfig


class AccountsConfig(AppConfig):
    name = "shopfloor.accounts"
    default_auto_field = "django.db.models.BigAutoField"
