"""The nests that are asked for, laid out, compared, released or thrown away."""

from typing import Any, ClassVar

from django.db.models import Prefetch, QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor.api.asking import AskSerializer, RivalSerializer, ThrowAwaySerializer
from shopfloor.api.history import WithHistory
from shopfloor.api.keys import Keyed, created_or_known, is_repeat, key_of, values_of
from shopfloor.api.layouts import LayoutSerializer, light_layouts
from shopfloor.api.lists import ShopViewSet
from shopfloor.api.pictures import PICTURE, picture_answer, picture_schema
from shopfloor.floor import release
from shopfloor.orders.models import Order
from shopfloor.planning import nest_state
from shopfloor.planning.models import Nest, NestDemand, NestEvent, NestState
from shopfloor.planning.queries_orders import sheets_of_lines
from shopfloor.planning.request import ask_for_nest
from shopfloor.planning.rival import ask_for_rival, choose
from shopfloor.stock.models import Kind, Machine, Material, TubeSection


class BestSerializer(serializers.Serializer):
    """The best nest so far, while it is laid out."""

    placed = serializers.IntegerField()
    wanted = serializers.IntegerField()
    stock = serializers.IntegerField(help_text="How many sheets or bars.")
    proven_optimal = serializers.BooleanField()
    filled = serializers.IntegerField(help_text="How many further pieces fill room that is left over.")

    def get_fields(self) -> dict[str, Any]:
        # A field of this name cannot be written as an attribute.
        return {**super().get_fields(), "yield": serializers.FloatField()}


class UnplacedSerializer(serializers.Serializer):
    part = serializers.CharField()
    count = serializers.IntegerField()
    reason = serializers.CharField()


class BoundSerializer(serializers.Serializer):
    """What no nest of the same pieces can do without, known from areas and lengths alone."""

    count = serializers.IntegerField(
        allow_null=True, help_text="No nest takes fewer sheets or bars; null for several sizes."
    )
    full_count = serializers.IntegerField(
        allow_null=True, help_text="Sheets that any nest takes beside `last_mm` of another; null for several sizes."
    )
    last_mm = serializers.FloatField(allow_null=True)
    left_share = serializers.FloatField(
        allow_null=True,
        help_text="The share of its stock that this nest could save at most; null where pieces are out.",
    )


class NestSerializer(serializers.ModelSerializer):
    """A nest. `best` tells of the best so far while it is laid out, the other figures of the one that was kept."""

    name = serializers.CharField(source="__str__", read_only=True)
    group = serializers.CharField(read_only=True)
    machine_name = serializers.CharField(source="machine", read_only=True)
    asked_by_name = serializers.CharField(source="asked_by", read_only=True, default=None, allow_null=True)
    best = serializers.SerializerMethodField()
    unplaced = UnplacedSerializer(many=True, read_only=True)
    bound = serializers.SerializerMethodField()

    class Meta:
        model = Nest
        fields = (
            "id",
            "name",
            "group",
            "kind",
            "material",
            "thickness_mm",
            "section",
            "machine",
            "machine_name",
            "state",
            "due_on",
            "asked_by",
            "asked_by_name",
            "asked_at",
            "budget_s",
            "seed",
            "started_at",
            "first_at",
            "finished_at",
            "best",
            "kits_together",
            "wanted_count",
            "placed_count",
            "filled_count",
            "yield_share",
            "proven_optimal",
            "bound",
            "unplaced",
            "failure",
            "version",
            "rival_of",
        )
        read_only_fields = fields

    @extend_schema_field(BestSerializer(allow_null=True))
    def get_best(self, nest: Nest) -> dict[str, Any] | None:
        best: dict[str, Any] | None = nest.best
        return best

    @extend_schema_field(BoundSerializer(allow_null=True))
    def get_bound(self, nest: Nest) -> dict[str, Any] | None:
        bound: dict[str, Any] | None = nest.bound
        return bound


class NestDemandSerializer(serializers.ModelSerializer):
    """How many pieces of an order line the nest holds; `fill_count` of them only fill room that is left over.

    `positions` are those of the sheets or bars with pieces of the line.
    """

    positions = serializers.SerializerMethodField()
    part_name = serializers.CharField(source="line.part")
    order = serializers.IntegerField(source="line.order_id")
    order_number = serializers.CharField(source="line.order.number")

    class Meta:
        model = NestDemand
        fields = ("line", "part_name", "order", "order_number", "count", "fill_count", "positions")

    def get_positions(self, demand: NestDemand) -> list[int]:
        found: list[int] = self.context["positions"].get(demand.line_id, [])
        return found


class NestDetailSerializer(NestSerializer):
    demands = serializers.SerializerMethodField()
    layouts = LayoutSerializer(many=True, read_only=True)

    class Meta(NestSerializer.Meta):
        fields = (*NestSerializer.Meta.fields, "demands", "layouts")
        read_only_fields = fields

    @extend_schema_field(NestDemandSerializer(many=True))
    def get_demands(self, nest: Nest) -> Any:
        demands = list(nest.demands.all())
        context = {"positions": sheets_of_lines(nest, demands)}
        return NestDemandSerializer(demands, many=True, context=context).data


class NestFilter(filters.FilterSet):
    state = filters.MultipleChoiceFilter(choices=NestState.choices)
    kind = filters.ChoiceFilter(choices=Kind.choices)
    material = filters.ModelChoiceFilter(queryset=Material.objects.all())
    section = filters.ModelChoiceFilter(queryset=TubeSection.objects.all())
    thickness_mm = filters.NumberFilter()
    machine = filters.ModelChoiceFilter(queryset=Machine.objects.all())
    order = filters.ModelChoiceFilter(field_name="demands__line__order", queryset=Order.objects.all(), distinct=True)


class NestViewSet(WithHistory, mixins.ListModelMixin, mixins.RetrieveModelMixin, ShopViewSet):
    """Nests, newest first."""

    serializer_class = NestSerializer
    filterset_class = NestFilter
    ordering_fields = ("asked_at", "due_on", "finished_at", "yield_share")
    ordering = ("-pk",)
    takes: ClassVar = {
        "create": "nest",
        "take_best": "nest",
        "cancel": "nest",
        "throw_away": "throw-nest-away",
        "release": "release-nest",
        "recall": "release-nest",
        "rival": "nest",
        "choose": "nest",
    }
    queryset = Nest.objects.all()

    def get_queryset(self) -> QuerySet[Nest]:
        if self.action == "best_picture":
            return Nest.objects.only("best_picture")
        nests = Nest.objects.select_related("material", "section", "machine", "asked_by")
        nests = nests.defer("result", "best_picture")
        if self.action in ("list", "history"):
            return nests
        demands = NestDemand.objects.select_related("line__part", "line__order")
        demands = demands.defer("line__part__shape", "line__part__picture")
        return nests.prefetch_related(Prefetch("demands", demands), Prefetch("layouts", light_layouts()))

    def get_serializer_class(self) -> type[serializers.BaseSerializer]:
        return NestSerializer if self.action == "list" else NestDetailSerializer

    def _detail(self) -> Any:
        return NestDetailSerializer(self.get_object()).data

    @extend_schema(request=AskSerializer, responses={201: NestDetailSerializer})
    def create(self, request: Request) -> Response:
        """Asks for a nest of a group's waiting pieces; it is laid out in the background."""
        asked = values_of(AskSerializer(data=request.data))
        key = key_of(request)
        known = is_repeat(NestEvent, key)
        nest = ask_for_nest(asked.pop("group"), by=request.user, key=key, **asked)
        self.kwargs["pk"] = nest.pk
        return created_or_known(self._detail(), is_new=not known)

    @picture_schema
    @action(detail=True, renderer_classes=PICTURE, url_path="best-picture")
    def best_picture(self, request: Request, pk: int) -> Response:
        """The first sheet or bar of the best nest so far, while it is laid out."""
        nest = self.get_object()
        return picture_answer(nest.best_picture, str(nest))

    @extend_schema(request=Keyed, responses=NestDetailSerializer)
    @action(detail=True, methods=["post"], url_path="take-best")
    def take_best(self, request: Request, pk: int) -> Response:
        """Stops the laying out and keeps the best so far; nothing happens where it has come to its end already."""
        values_of(Keyed(data=request.data))
        key_of(request)
        nest_state.take_best(self.get_object(), by=request.user)
        return Response(self._detail())

    @extend_schema(request=Keyed, responses=NestDetailSerializer)
    @action(detail=True, methods=["post"])
    def cancel(self, request: Request, pk: int) -> Response:
        """Stops a nest that waits or is laid out; its pieces are open again."""
        values_of(Keyed(data=request.data))
        nest_state.cancel(self.get_object(), by=request.user, key=key_of(request))
        return Response(self._detail())

    @extend_schema(request=ThrowAwaySerializer, responses=NestDetailSerializer)
    @action(detail=True, methods=["post"], url_path="throw-away")
    def throw_away(self, request: Request, pk: int) -> Response:
        """The nest is not wanted: its pieces are open again and its stock is free."""
        said = values_of(ThrowAwaySerializer(data=request.data))
        nest_state.throw_away(self.get_object(), by=request.user, key=key_of(request), why=said["why"])
        return Response(self._detail())

    @extend_schema(request=Keyed, responses=NestDetailSerializer)
    @action(detail=True, methods=["post"])
    def release(self, request: Request, pk: int) -> Response:
        """The nest goes to its machine: each sheet or bar waits there as a load."""
        values_of(Keyed(data=request.data))
        release.release(self.get_object(), by=request.user, key=key_of(request))
        return Response(self._detail())

    @extend_schema(request=RivalSerializer, responses={201: NestDetailSerializer})
    @action(detail=True, methods=["post"])
    def rival(self, request: Request, pk: int) -> Response:
        """Asks for another nest of the same pieces, to compare; it holds none of them until it is chosen."""
        said = values_of(RivalSerializer(data=request.data))
        key = key_of(request)
        known = is_repeat(NestEvent, key)
        other = ask_for_rival(self.get_object(), by=request.user, key=key, **said)
        self.kwargs["pk"] = other.pk
        return created_or_known(self._detail(), is_new=not known)

    @extend_schema(request=Keyed, responses=NestDetailSerializer)
    @action(detail=True, methods=["post"])
    def choose(self, request: Request, pk: int) -> Response:
        """Keeps this rival in place of the nest it was laid out beside, which is thrown away."""
        values_of(Keyed(data=request.data))
        choose(self.get_object(), by=request.user, key=key_of(request))
        return Response(self._detail())

    @extend_schema(request=Keyed, responses=NestDetailSerializer)
    @action(detail=True, methods=["post"])
    def recall(self, request: Request, pk: int) -> Response:
        """Takes a released nest back from the machine, as long as nothing of it was pulled."""
        values_of(Keyed(data=request.data))
        release.recall(self.get_object(), by=request.user, key=key_of(request))
        return Response(self._detail())
