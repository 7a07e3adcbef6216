"""The floor: the queue of a machine, pulling a load, and the marks on it."""

from typing import Any, ClassVar

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor.api.keys import Keyed, key_of, values_of
from shopfloor.api.lists import ShopViewSet
from shopfloor.api.loads import LoadDetailSerializer, LoadSerializer, light_loads, loads_with_pieces
from shopfloor.base.errors import BadInput
from shopfloor.floor import mark, pull
from shopfloor.floor.centring import check_centring
from shopfloor.floor.inspection import VERDICTS, Verdict, all_good, inspect
from shopfloor.floor.models import FloorEvent, Load, LoadState, ScrapReason
from shopfloor.floor.undo import undo
from shopfloor.orders.models import Order
from shopfloor.planning.models import Nest
from shopfloor.stock.models import Machine

MOST_NUMBER = 2**31 - 1


class FloorEventSerializer(serializers.ModelSerializer):
    """Something marked on a load. `pieces` lists what changed: [number, from, to, reason before, reason]; `detail` what
    else was said, such as what was measured at the centring check, in mm.
    """

    actor_name = serializers.CharField(source="actor", default=None, allow_null=True)
    pieces = serializers.ListField(child=serializers.ListField(child=serializers.JSONField()))
    detail = serializers.DictField()

    class Meta:
        model = FloorEvent
        fields = (
            "id",
            "key",
            "load",
            "at",
            "actor",
            "actor_name",
            "verb",
            "from_state",
            "to_state",
            "why",
            "pieces",
            "undoes",
            "detail",
        )
        read_only_fields = fields


class MarkedSerializer(serializers.Serializer):
    """The event of a mark, for a repeated request the first one, and the load as it is now."""

    event = FloorEventSerializer()
    load = LoadDetailSerializer()


class CentringSerializer(Keyed):
    """What was measured, as far as it was: a diameter, or height, width and twist."""

    height_mm = serializers.FloatField(required=False, allow_null=True)
    width_mm = serializers.FloatField(required=False, allow_null=True)
    diameter_mm = serializers.FloatField(required=False, allow_null=True)
    twist_mm = serializers.FloatField(required=False, allow_null=True)


class CutSerializer(Keyed):
    keep_remnant = serializers.BooleanField(default=True, help_text="Whether what is left is booked into stock.")


class FailedSerializer(Keyed):
    why = serializers.CharField(max_length=500, allow_blank=True)
    stock_spoiled = serializers.BooleanField(default=True, help_text="Whether the sheet or bar cannot be used again.")


class BreakOutSerializer(Keyed):
    numbers = serializers.ListField(
        child=serializers.IntegerField(min_value=0, max_value=MOST_NUMBER),
        required=False,
        allow_null=True,
        help_text="Which pieces; by default all that are still in the skeleton.",
    )
    lost = serializers.ListField(
        child=serializers.IntegerField(min_value=0, max_value=MOST_NUMBER),
        required=False,
        help_text="Pieces that are not there.",
    )


class VerdictSerializer(serializers.Serializer):
    number = serializers.IntegerField(min_value=0, max_value=MOST_NUMBER)
    state = serializers.ChoiceField([(each.value, each.label) for each in VERDICTS])
    reason = serializers.ChoiceField(ScrapReason.choices, required=False, allow_blank=True, default="")


class InspectSerializer(Keyed):
    """Verdicts on single pieces, or `all_good` for every piece that waits to be inspected."""

    verdicts = VerdictSerializer(many=True, required=False)
    all_good = serializers.BooleanField(default=False)


class UndoSerializer(Keyed):
    """`event` is the mark that is to be taken back, by its id; without it, whatever mark is the last."""

    event = serializers.IntegerField(required=False, min_value=1)


class LoadFilter(filters.FilterSet):
    state = filters.MultipleChoiceFilter(choices=LoadState.choices)
    machine = filters.ModelChoiceFilter(queryset=Machine.objects.all())
    nest = filters.ModelChoiceFilter(field_name="layout__nest", queryset=Nest.objects.all())
    order = filters.ModelChoiceFilter(field_name="workpieces__line__order", queryset=Order.objects.all(), distinct=True)
    heat_no = filters.CharFilter(lookup_expr="iexact")


class QueueViewSet(ShopViewSet):
    """The queue of a machine, named by the machine's id."""

    queryset = Machine.objects.all()
    serializer_class = LoadSerializer
    filter_backends = ()
    takes: ClassVar = {"pull_next": "pull-load"}

    @extend_schema(operation_id="queues_list", responses=LoadSerializer(many=True))
    def retrieve(self, request: Request, pk: int) -> Response:
        """Loads that wait for the machine, next first."""
        waiting = light_loads().filter(machine=self.get_object(), state=LoadState.WAITING)
        page = self.paginate_queryset(waiting)
        return self.get_paginated_response(LoadSerializer(page, many=True).data)

    @extend_schema(request=Keyed, responses=LoadDetailSerializer)
    @action(detail=True, methods=["post"], url_path="pull-next")
    def pull_next(self, request: Request, pk: int) -> Response:
        """Pulls the load that is due first; two requests never get the same one."""
        values_of(Keyed(data=request.data))
        load = pull.pull_next(self.get_object(), by=request.user, key=key_of(request))
        return Response(LoadDetailSerializer(loads_with_pieces().get(pk=load.pk)).data)


class LoadViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, ShopViewSet):
    """Loads: sheets and bars at the machines, due first."""

    serializer_class = LoadSerializer
    filterset_class = LoadFilter
    ordering_fields = ("due_on", "released_at", "pulled_at", "cut_at")
    ordering = ("due_on", "layout__nest", "layout__position", "copy_no")
    takes: ClassVar = {
        "pull": "pull-load",
        "put_back": "pull-load",
        "check_centring": "check-centring",
        "mark_cut": "mark-cut",
        "mark_failed": "mark-failed",
        "break_out": "break-out",
        "inspect": "inspect",
    }
    queryset = Load.objects.all()

    def get_queryset(self) -> QuerySet[Load]:
        return light_loads() if self.action == "list" else loads_with_pieces()

    def get_serializer_class(self) -> type[serializers.BaseSerializer]:
        return LoadSerializer if self.action == "list" else LoadDetailSerializer

    def _detail(self) -> Response:
        return Response(LoadDetailSerializer(self.get_object()).data)

    def _marked(self, event: FloorEvent) -> Response:
        return Response(MarkedSerializer({"event": event, "load": self.get_object()}).data)

    @extend_schema(request=Keyed, responses=LoadDetailSerializer)
    @action(detail=True, methods=["post"])
    def pull(self, request: Request, pk: int) -> Response:
        """Pulls this load out of turn, for when its sheet lies on the table already."""
        values_of(Keyed(data=request.data))
        pull.pull(self.get_object(), by=request.user, key=key_of(request))
        return self._detail()

    @extend_schema(request=Keyed, responses=LoadDetailSerializer)
    @action(detail=True, methods=["post"], url_path="put-back")
    def put_back(self, request: Request, pk: int) -> Response:
        """The load goes back into the queue uncut."""
        values_of(Keyed(data=request.data))
        pull.put_back(self.get_object(), by=request.user, key=key_of(request))
        return self._detail()

    @extend_schema(request=CentringSerializer, responses=MarkedSerializer)
    @action(detail=True, methods=["post"], url_path="check-centring")
    def check_centring(self, request: Request, pk: int) -> Response:
        """The bar runs true in the chuck; for bars at the machine."""
        said = values_of(CentringSerializer(data=request.data))
        return self._marked(check_centring(self.get_object(), by=request.user, key=key_of(request), measured=said))

    @extend_schema(request=CutSerializer, responses=MarkedSerializer)
    @action(detail=True, methods=["post"], url_path="mark-cut")
    def mark_cut(self, request: Request, pk: int) -> Response:
        """The sheet or bar is cut."""
        said = values_of(CutSerializer(data=request.data))
        return self._marked(mark.mark_cut(self.get_object(), by=request.user, key=key_of(request), **said))

    @extend_schema(request=FailedSerializer, responses=MarkedSerializer)
    @action(detail=True, methods=["post"], url_path="mark-failed")
    def mark_failed(self, request: Request, pk: int) -> Response:
        """The cut failed: its pieces are wanted again."""
        said = values_of(FailedSerializer(data=request.data))
        return self._marked(mark.mark_failed(self.get_object(), by=request.user, key=key_of(request), **said))

    @extend_schema(request=BreakOutSerializer, responses=MarkedSerializer)
    @action(detail=True, methods=["post"], url_path="break-out")
    def break_out(self, request: Request, pk: int) -> Response:
        """Pieces are out of the skeleton, or not there."""
        said = values_of(BreakOutSerializer(data=request.data))
        return self._marked(mark.break_out(self.get_object(), by=request.user, key=key_of(request), **said))

    @extend_schema(request=InspectSerializer, responses=MarkedSerializer)
    @action(detail=True, methods=["post"])
    def inspect(self, request: Request, pk: int) -> Response:
        """Pieces are good, to be reworked, or scrap; scrap is wanted again."""
        said = values_of(InspectSerializer(data=request.data))
        load = self.get_object()
        rows: list[dict[str, Any]] = said.get("verdicts", [])
        if len({row["number"] for row in rows}) < len(rows):
            raise BadInput("A piece is named twice.", "verdicts")
        verdicts = all_good(load) if said["all_good"] else {}
        verdicts |= {row["number"]: Verdict(row["state"], row["reason"]) for row in rows}
        return self._marked(inspect(load, verdicts, by=request.user, key=key_of(request)))

    @extend_schema(request=UndoSerializer, responses=MarkedSerializer)
    @action(detail=True, methods=["post"])
    def undo(self, request: Request, pk: int) -> Response:
        """Takes back the last mark; it takes the role that made it."""
        said = values_of(UndoSerializer(data=request.data))
        load, key = self.get_object(), key_of(request)
        return self._marked(undo(load, by=request.user, key=key, mark_id=said.get("event")))


class FloorEventFilter(filters.FilterSet):
    load = filters.ModelChoiceFilter(queryset=Load.objects.all())
    nest = filters.ModelChoiceFilter(field_name="load__layout__nest", queryset=Nest.objects.all())
    machine = filters.ModelChoiceFilter(field_name="load__machine", queryset=Machine.objects.all())
    verb = filters.CharFilter()


class FloorEventViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, ShopViewSet):
    """What was marked on loads, last first."""

    serializer_class = FloorEventSerializer
    filterset_class = FloorEventFilter
    ordering_fields = ("at",)
    ordering = ("-at", "-pk")
    queryset = FloorEvent.objects.select_related("actor")
