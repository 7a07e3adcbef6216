"""Lays out nests in the background, on a queue of their own."""

from celery import shared_task


@shared_task
def lay_out(nest_id: int) -> None:
    from shopfloor.planning.run import run

    run(nest_id)
