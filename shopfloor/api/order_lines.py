"""The files and lines of an order, and the ledger of what became of their pieces."""

from typing import ClassVar

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor.api.answers import NOTHING_HERE
from shopfloor.api.keys import Keyed, is_repeat, key_of, values_of
from shopfloor.api.lists import ShopViewSet
from shopfloor.api.parts import DrawingSerializer
from shopfloor.orders.intake import answer, set_line, take_out
from shopfloor.orders.models import Grain, LineEvent, Order, OrderEvent, OrderFile, OrderLine
from shopfloor.parts.upload import JOINS, UNITS
from shopfloor.stock.models import Material, TubeSection


class OrderFileSerializer(serializers.ModelSerializer):
    """A drawing in an order, with what reading it came to so far."""

    drawing = DrawingSerializer(read_only=True)

    class Meta:
        model = OrderFile
        fields = ("id", "order", "added_at", "drawing")
        read_only_fields = fields


class OrderLineSerializer(Keyed, serializers.ModelSerializer):
    """So many of one part, and where its pieces stand. `missing` must still be said before the order is confirmed."""

    quantity = serializers.IntegerField()
    thickness_mm = serializers.DecimalField(None, None, allow_null=True)
    part_name = serializers.CharField(source="part", read_only=True)
    material = serializers.PrimaryKeyRelatedField(queryset=Material.objects.all(), allow_null=True)
    material_name = serializers.CharField(source="material", read_only=True, default=None, allow_null=True)
    section = serializers.PrimaryKeyRelatedField(
        queryset=TubeSection.objects.all(), allow_null=True, help_text="The drawn one (null), or one that is near it."
    )
    section_name = serializers.CharField(source="section", read_only=True, default=None, allow_null=True)
    grain = serializers.ChoiceField(Grain.choices)
    missing = serializers.ListField(child=serializers.CharField(), read_only=True)
    open_count = serializers.IntegerField(read_only=True)

    class Meta:
        model = OrderLine
        fields = (
            "id",
            "key",
            "order",
            "file",
            "part",
            "part_name",
            "quantity",
            "material",
            "material_name",
            "thickness_mm",
            "section",
            "section_name",
            "grain",
            "note",
            "missing",
            "open_count",
            "planned_count",
            "nested_count",
            "cut_count",
            "broken_out_count",
            "rework_count",
            "good_count",
            "scrapped_count",
            "lost_count",
        )
        read_only_fields = ("order", "file", "part")


class LineEventSerializer(serializers.ModelSerializer):
    """So many pieces went from one step to another; "" stands for still to be nested."""

    actor_name = serializers.CharField(source="actor", read_only=True, default=None, allow_null=True)

    class Meta:
        model = LineEvent
        fields = ("id", "line", "at", "actor", "actor_name", "from_step", "to_step", "count", "place", "why")
        read_only_fields = fields


class AnswerSerializer(Keyed):
    """What a person says about a drawing that cannot be read by itself alone."""

    unit = serializers.ChoiceField(UNITS, required=False, help_text="What the drawing's numbers are in.")
    join_mm = serializers.ChoiceField(
        JOINS, required=False, help_text="How far apart ends may lie to be joined, in mm."
    )


def light_files() -> QuerySet[OrderFile]:
    """Files with their drawings, without the pictures."""
    return OrderFile.objects.select_related("drawing").defer("drawing__picture").order_by("pk")


def light_lines() -> QuerySet[OrderLine]:
    """Lines with what their names need, without shapes and pictures."""
    lines = OrderLine.objects.select_related("part", "material", "section")
    return lines.defer("part__shape", "part__picture").order_by("pk")


class OrderFileViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, ShopViewSet):
    """Drawings in orders."""

    serializer_class = OrderFileSerializer
    filterset_fields = ("order",)
    ordering_fields = ("added_at",)
    ordering = ("order", "added_at")
    takes: ClassVar = {"answer": "enter-order", "destroy": "enter-order"}
    queryset = OrderFile.objects.all()

    def get_queryset(self) -> QuerySet[OrderFile]:
        return light_files().select_related("order")

    @extend_schema(request=AnswerSerializer, responses=OrderFileSerializer)
    @action(detail=True, methods=["post"])
    def answer(self, request: Request, pk: int) -> Response:
        """Says in which unit it is drawn, or joins ends that lie further apart; it is then read again."""
        said = values_of(AnswerSerializer(data=request.data))
        file = answer(self.get_object(), by=request.user, key=key_of(request), **said)
        return Response(self.get_serializer(file).data)

    def destroy(self, request: Request, pk: int) -> Response:
        """Takes the file and its lines out of the draft."""
        file, key = self.get_queryset().filter(pk=pk).first(), key_of(request)
        if file is None and not is_repeat(OrderEvent, key):
            raise NotFound(NOTHING_HERE)
        if file is not None:
            take_out(file, by=request.user, key=key)
        return Response(status=204)


class OrderLineViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, ShopViewSet):
    """Lines of orders."""

    serializer_class = OrderLineSerializer
    filterset_fields = ("order", "order__state", "material", "section", "part")
    ordering_fields = ("order__due_on", "quantity", "good_count")
    ordering = ("order",)
    takes: ClassVar = {"partial_update": "enter-order"}
    queryset = OrderLine.objects.all()

    def get_queryset(self) -> QuerySet[OrderLine]:
        return light_lines().select_related("order", "part__section")

    def partial_update(self, request: Request, pk: int) -> Response:
        """Says quantity, material, thickness, section, grain or note of a line, while its order is a draft."""
        line = self.get_object()
        values = values_of(self.get_serializer(line, data=request.data, partial=True))
        set_line(line, values, by=request.user, key=key_of(request))
        return Response(self.get_serializer(self.get_object()).data)


class LineEventFilter(filters.FilterSet):
    order = filters.ModelChoiceFilter(field_name="line__order", queryset=Order.objects.all())
    line = filters.ModelChoiceFilter(queryset=OrderLine.objects.all())


class LineEventViewSet(mixins.ListModelMixin, ShopViewSet):
    """What became of the pieces of lines, last first."""

    serializer_class = LineEventSerializer
    filterset_class = LineEventFilter
    ordering_fields = ("at",)
    ordering = ("-at", "-pk")
    queryset = LineEvent.objects.select_related("actor")
