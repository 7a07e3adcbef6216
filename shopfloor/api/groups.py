"""What waits to be nested, in groups that can share a sheet or bar."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from shopfloor.api.lists import Pages
from shopfloor.orders.models import OrderLine
from shopfloor.planning.demand import Group, stock_by_group, waiting_groups
from shopfloor.stock.models import Kind


class WaitingLineSerializer(serializers.ModelSerializer):
    """An order line with pieces still to be nested."""

    part_name = serializers.CharField(source="part")
    order_number = serializers.CharField(source="order.number")
    customer_name = serializers.CharField(source="order.customer")
    due_on = serializers.DateField(source="order.due_on")
    open_count = serializers.IntegerField()

    class Meta:
        model = OrderLine
        fields = ("id", "order", "order_number", "customer_name", "due_on", "part", "part_name", "open_count")


class GroupSerializer(serializers.Serializer):
    """Pieces that can share a sheet or bar. `amount` is net area in mm² for sheet, length in mm for tube."""

    group = serializers.CharField(source="key.slug", help_text="Names the group when asking for a nest of it.")
    title = serializers.CharField()
    kind = serializers.ChoiceField(Kind.choices)
    material = serializers.IntegerField(source="key.material_id")
    thickness_mm = serializers.DecimalField(6, 2, source="key.thickness_mm", allow_null=True)
    section = serializers.IntegerField(source="key.section_id", allow_null=True)
    piece_count = serializers.IntegerField()
    due_on = serializers.DateField()
    amount = serializers.FloatField()
    stock_kinds = serializers.SerializerMethodField(help_text="How many stock items of the group have some free.")
    lines = WaitingLineSerializer(many=True)

    def get_stock_kinds(self, group: Group) -> int:
        return len(self.context["stock"].get(group.key, ()))


class GroupViewSet(GenericViewSet):
    """Groups of pieces that wait, earliest due first."""

    serializer_class = GroupSerializer
    pagination_class = Pages
    queryset = OrderLine.objects.none()

    @extend_schema(responses=GroupSerializer(many=True))
    def list(self, request: Request) -> Response:
        groups: Any = waiting_groups()
        page = self.paginate_queryset(groups) or []
        stock = stock_by_group(group.key for group in page)
        body = GroupSerializer(page, many=True, context={"stock": stock}).data
        return self.get_paginated_response(body)
