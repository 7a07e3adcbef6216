"""What lies in the rack: sheets, bars and remnants."""

from typing import ClassVar

from django.db.models import F, Q, QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor.api.history import WithHistory
from shopfloor.api.keys import Keyed, created_or_known, is_repeat, key_of, values_of
from shopfloor.api.lists import ShopViewSet
from shopfloor.stock.correct import correct_item, enter_item
from shopfloor.stock.models import Kind, Material, StockEvent, StockItem, TubeSection


class StockItemSerializer(Keyed, serializers.ModelSerializer):
    """Sheets, bars or remnants that are all alike.

    A sheet has thickness and width, a bar its section. `on_hand` null means not counted, and always enough; `free` are
    those that no nest was promised. `mass_kg` is of one.
    """

    name = serializers.CharField(source="__str__", read_only=True)
    material_name = serializers.CharField(source="material", read_only=True)
    section_name = serializers.CharField(source="section", read_only=True, default=None, allow_null=True)
    free = serializers.IntegerField(read_only=True, allow_null=True)
    mass_kg = serializers.FloatField(read_only=True)

    class Meta:
        model = StockItem
        fields = (
            "id",
            "key",
            "name",
            "kind",
            "material",
            "material_name",
            "thickness_mm",
            "section",
            "section_name",
            "length_mm",
            "width_mm",
            "on_hand",
            "reserved",
            "free",
            "heat_no",
            "place",
            "is_remnant",
            "came_from",
            "mass_kg",
            "added_at",
        )
        read_only_fields = ("reserved", "came_from", "added_at")


class StockFilter(filters.FilterSet):
    kind = filters.ChoiceFilter(choices=Kind.choices)
    material = filters.ModelChoiceFilter(queryset=Material.objects.all())
    section = filters.ModelChoiceFilter(queryset=TubeSection.objects.all())
    thickness_mm = filters.NumberFilter()
    is_remnant = filters.BooleanFilter()
    heat_no = filters.CharFilter(lookup_expr="iexact")
    has_free = filters.BooleanFilter(method="of_free", help_text="Whether at least one is not promised to a nest.")

    def of_free(self, items: QuerySet[StockItem], name: str, value: bool) -> QuerySet[StockItem]:
        has_free = Q(on_hand=None) | Q(on_hand__gt=F("reserved"))
        return items.filter(has_free if value else ~has_free)


class StockItemViewSet(WithHistory, mixins.ListModelMixin, mixins.RetrieveModelMixin, ShopViewSet):
    """Stock items."""

    serializer_class = StockItemSerializer
    filterset_class = StockFilter
    ordering_fields = ("material__name", "thickness_mm", "length_mm", "width_mm", "on_hand", "added_at")
    ordering = ("kind", "material__name", "thickness_mm", "section", "is_remnant", "-length_mm")
    takes: ClassVar = {"create": "correct-stock", "partial_update": "correct-stock"}
    queryset = StockItem.objects.select_related("material", "section")

    @extend_schema(responses={201: StockItemSerializer})
    def create(self, request: Request) -> Response:
        """Enters sheets, bars or a remnant."""
        values = values_of(self.get_serializer(data=request.data))
        key = key_of(request)
        known = is_repeat(StockEvent, key)
        item = enter_item(values, by=request.user, key=key)
        return created_or_known(self.get_serializer(item).data, is_new=not known)

    def partial_update(self, request: Request, pk: int) -> Response:
        """Corrects what was counted or typed wrongly."""
        item = self.get_object()
        values = values_of(self.get_serializer(item, data=request.data, partial=True))
        item = correct_item(item, values, by=request.user, key=key_of(request))
        return Response(self.get_serializer(item).data)
