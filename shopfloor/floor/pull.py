"""Pulls the next load of a machine's queue: the earliest due first, and never the same one to two tablets."""

from uuid import UUID

from django.utils import timezone

from shopfloor.accounts.models import User
from shopfloor.base.errors import BadInput, Refused, WrongState
from shopfloor.base.moves import as_key
from shopfloor.base.roles import require
from shopfloor.floor.load_state import mark_whole
from shopfloor.floor.models import FloorEvent, Load, LoadState
from shopfloor.stock.models import Machine


def pull_next(machine: Machine, *, by: User, key: object = None) -> Load:
    """The load that is now at the machine in this person's hands.

    Raises:
        Refused: code `queue-empty`, where nothing waits for this machine.
    """
    require(by, "pull-load")
    request_key = as_key(key)
    if found := _pulled_by(request_key):
        return found
    # Each round either wins a load or sees that another tablet was quicker with it; a queue is finite.
    while True:
        load = queue_of(machine).first()
        if load is None:
            raise Refused(
                f"Nothing waits for {machine}. Release a nest at the office, or ask what comes next.", "queue-empty"
            )
        try:
            return pull(load, by=by, key=request_key)
        except WrongState:
            continue
        except BadInput:
            # The same request twice at the same time: its twin has pulled another load meanwhile.
            if found := _pulled_by(request_key):
                return found
            raise


def _pulled_by(key: UUID) -> Load | None:
    found = FloorEvent.objects.filter(key=key, verb="pull").select_related("load").first()
    return found.load if found else None


def pull(load: Load, *, by: User, key: object = None) -> Load:
    """Pulls a load out of turn, for when its sheet lies on the table already."""
    require(by, "pull-load")
    fields = {"pulled_by": by, "pulled_at": timezone.now(), "heat_no": load.stock.heat_no}
    mark_whole(load, "pull", by=by, key=key, set_fields=fields)
    return load


def put_back(load: Load, *, by: User, key: object = None) -> None:
    """The load goes back into the queue uncut."""
    require(by, "pull-load")
    mark_whole(load, "put-back", by=by, key=key, set_fields={"pulled_by": None, "pulled_at": None})


def queue_of(machine: Machine):
    """Loads that wait for the machine, next first."""
    loads = Load.objects.filter(machine=machine, state=LoadState.WAITING)
    return loads.select_related("layout__nest__material", "layout__nest__section", "stock")
