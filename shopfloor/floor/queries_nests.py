"""How far the sheets and bars of a nest have come, and what happened to one: what the floor tells the office."""

from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from shopfloor.floor.centring import Measured, measured_at, standing_check
from shopfloor.floor.models import FloorEvent, Load, LoadState
from shopfloor.floor.queries import all_loads
from shopfloor.planning.models import Nest
from shopfloor.stock.models import Kind


@dataclass(frozen=True)
class LoadOfNest:
    """A load with the centring check that stands for it; for a sheet, and for a bar not ticked, there is none."""

    load: Load
    check: FloorEvent | None

    @property
    def measured(self) -> list[Measured]:
        return [] if self.check is None else measured_at(self.check, self.load)

    @property
    def lacks_check(self) -> bool:
        """Whether it is a bar that was cut without a tick."""
        is_bar = self.load.layout.nest.kind == Kind.TUBE
        return is_bar and self.check is None and self.load.state not in (LoadState.WAITING, LoadState.AT_MACHINE)


def loads_of_nest(nest: Nest) -> list[LoadOfNest]:
    """The nest's loads in the order in which they are cut, those taken back left out."""
    events = FloorEvent.objects.select_related("actor", "undone_by").order_by("-pk")
    loads = all_loads().filter(layout__nest=nest).exclude(state=LoadState.RECALLED)
    return [
        LoadOfNest(load, standing_check(load.events.all()))
        for load in loads.prefetch_related(Prefetch("events", events)).order_by("layout__position", "copy_no")
    ]


def history_of_load(load: Load) -> QuerySet[FloorEvent]:
    """What was marked on the load, last first."""
    return load.events.select_related("actor", "undoes").order_by("-pk")
