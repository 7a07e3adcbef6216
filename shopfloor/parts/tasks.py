"""Reads drawings in the background."""

from celery import shared_task


@shared_task
def read_drawing(drawing_id: int) -> None:
    from shopfloor.parts.read import read

    read(drawing_id)
