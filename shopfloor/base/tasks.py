"""The sweep as a task, for a worker that beat can reach."""

from celery import shared_task

from shopfloor.base import leases


@shared_task
def sweep() -> None:
    leases.sweep()
