"""The server: orders, planning and the shop floor, one small app per stage of the work."""

from shopfloor.celery import app as celery_app

__all__ = ["celery_app"]
