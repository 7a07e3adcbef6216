"""Addresses for those who watch the server."""

from django.urls import path

from shopfloor.base import health

app_name = "base"
urlpatterns = [
    path("alive/", health.alive, name="alive"),
    path("ready/", health.ready, name="ready"),
]
