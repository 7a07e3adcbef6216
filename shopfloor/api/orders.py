"""Customers and orders: entering, confirming, handing over, and how far each order has come."""

from typing import Any, ClassVar

from django.db.models import Count, Prefetch, QuerySet, Sum
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor.api.entries import EntrySerializer, EntryViewSet
from shopfloor.api.history import WithHistory
from shopfloor.api.keys import Keyed, created_or_known, is_repeat, key_of, values_of
from shopfloor.api.lists import ShopViewSet
from shopfloor.api.order_lines import OrderFileSerializer, OrderLineSerializer, light_files, light_lines
from shopfloor.base.errors import BadInput
from shopfloor.orders import order_state
from shopfloor.orders.intake import add_files, open_order
from shopfloor.orders.models import LOSSES, STEPS, Customer, Order, OrderEvent, OrderState

COUNTED = ("quantity", *(f"{step}_count" for step in (*STEPS, *LOSSES)))


class CustomerSerializer(EntrySerializer):
    class Meta:
        model = Customer
        fields = ("id", "key", "name", "contact", "note")
        extra_kwargs: ClassVar = {"name": {"validators": []}}


class CustomerFilter(filters.FilterSet):
    name = filters.CharFilter(lookup_expr="icontains", help_text="A part of the name.")


class CustomerViewSet(EntryViewSet):
    """Customers."""

    queryset = Customer.objects.all()
    serializer_class = CustomerSerializer
    filterset_class = CustomerFilter
    ordering_fields = ("name",)
    ordering = ("name",)
    takes: ClassVar = {"create": "enter-order", "partial_update": "enter-order"}


class PiecesSerializer(serializers.Serializer):
    """How many pieces an order has, and where they stand; what is in no step is still to be nested (`open`)."""

    ordered = serializers.IntegerField()
    open = serializers.IntegerField()
    planned = serializers.IntegerField()
    nested = serializers.IntegerField()
    cut = serializers.IntegerField()
    broken_out = serializers.IntegerField()
    rework = serializers.IntegerField()
    good = serializers.IntegerField()
    scrapped = serializers.IntegerField()
    lost = serializers.IntegerField()

    def to_representation(self, order: Any) -> dict[str, int]:
        counts = {name.removesuffix("_count"): getattr(order, f"sum_{name}") or 0 for name in COUNTED}
        ordered = counts.pop("quantity")
        return {"ordered": ordered, "open": ordered - sum(counts[step] for step in STEPS), **counts}


class OrderSerializer(Keyed, serializers.ModelSerializer):
    """An order. `number` is ours, `reference` the customer's own."""

    customer_name = serializers.CharField(source="customer", read_only=True)
    pieces = PiecesSerializer(source="*", read_only=True)
    line_count = serializers.IntegerField(read_only=True)

    class Meta:
        model = Order
        fields = (
            "id",
            "key",
            "number",
            "customer",
            "customer_name",
            "reference",
            "due_on",
            "note",
            "state",
            "entered_at",
            "completed_at",
            "line_count",
            "pieces",
        )
        read_only_fields = ("number", "state", "entered_at", "completed_at")


class OrderDetailSerializer(OrderSerializer):
    """An order with its files and lines; `faults` are what keeps a draft from being confirmed, as sentences."""

    files = OrderFileSerializer(many=True, read_only=True)
    lines = OrderLineSerializer(many=True, read_only=True)
    faults = serializers.SerializerMethodField()

    class Meta(OrderSerializer.Meta):
        fields = (*OrderSerializer.Meta.fields, "faults", "files", "lines")

    def get_faults(self, order: Order) -> list[str]:
        return order_state.confirm_faults(order) if order.state == OrderState.DRAFT else []


class CancelSerializer(Keyed):
    why = serializers.CharField(required=False, default="", allow_blank=True, max_length=500)


class UploadSerializer(Keyed):
    files = serializers.ListField(child=serializers.FileField(), help_text="DXF (sheet) and STEP (tube) files.")


class UploadedSerializer(serializers.Serializer):
    """All files of the order, and a sentence for each that was not taken."""

    files = OrderFileSerializer(many=True)
    refused = serializers.ListField(child=serializers.CharField())


class OrderFilter(filters.FilterSet):
    state = filters.MultipleChoiceFilter(choices=OrderState.choices)
    customer = filters.ModelChoiceFilter(queryset=Customer.objects.all())
    reference = filters.CharFilter(lookup_expr="icontains", help_text="A part of the customer's reference.")
    due_on = filters.DateFilter()
    due_before = filters.DateFilter(field_name="due_on", lookup_expr="lt")
    due_after = filters.DateFilter(field_name="due_on", lookup_expr="gt")


class OrderViewSet(WithHistory, mixins.ListModelMixin, mixins.RetrieveModelMixin, ShopViewSet):
    """Orders."""

    serializer_class = OrderSerializer
    filterset_class = OrderFilter
    ordering_fields = ("due_on", "entered_at", "completed_at", "customer__name", "state")
    ordering = ("due_on",)
    takes: ClassVar = {
        "create": "enter-order",
        "files": "enter-order",
        "confirm": "enter-order",
        "cancel": "cancel-order",
        "hand_over": "hand-over-order",
        "take_back": "hand-over-order",
    }
    queryset = Order.objects.all()

    def get_queryset(self) -> QuerySet[Order]:
        orders = Order.objects.select_related("customer")
        if self.action == "history":
            return orders
        orders = orders.annotate(
            line_count=Count("lines"), **{f"sum_{name}": Sum(f"lines__{name}") for name in COUNTED}
        )
        if self.action == "list":
            return orders
        return orders.prefetch_related(Prefetch("files", light_files()), Prefetch("lines", light_lines()))

    def get_serializer_class(self) -> type[serializers.BaseSerializer]:
        return OrderSerializer if self.action in ("list", "create") else OrderDetailSerializer

    def _detail(self) -> Response:
        return Response(OrderDetailSerializer(self.get_object()).data)

    @extend_schema(request=OrderSerializer, responses={201: OrderDetailSerializer})
    def create(self, request: Request) -> Response:
        """Opens a draft; its lines come from the files that are put into it."""
        values = values_of(self.get_serializer(data=request.data))
        key = key_of(request)
        known = is_repeat(OrderEvent, key)
        order = open_order(**values, by=request.user, key=key)
        self.kwargs["pk"] = order.pk
        return created_or_known(OrderDetailSerializer(self.get_object()).data, is_new=not known)

    @extend_schema(
        request={"multipart/form-data": UploadSerializer}, responses={200: UploadedSerializer, 201: UploadedSerializer}
    )
    @action(detail=True, methods=["post"], parser_classes=[MultiPartParser])
    def files(self, request: Request, pk: int) -> Response:
        """Puts files into the draft, many at once; one that is not taken does not keep the others out."""
        order = self.get_object()
        uploads = request.FILES.getlist("files")
        if not uploads:
            raise BadInput("Send at least one file, each under the name “files”.", "files")
        before = order.files.count()
        refused = add_files(order, uploads, by=request.user, key=key_of(request))
        if len(refused) == len(uploads):
            raise BadInput(" ".join(refused), "files")
        files = list(light_files().filter(order=order))
        body = UploadedSerializer({"files": files, "refused": refused}).data
        return created_or_known(body, is_new=len(files) > before)

    @extend_schema(request=Keyed, responses=OrderDetailSerializer)
    @action(detail=True, methods=["post"])
    def confirm(self, request: Request, pk: int) -> Response:
        """The order goes into work."""
        values_of(Keyed(data=request.data))
        order_state.confirm(self.get_object(), by=request.user, key=key_of(request))
        return self._detail()

    @extend_schema(request=CancelSerializer, responses=OrderDetailSerializer)
    @action(detail=True, methods=["post"])
    def cancel(self, request: Request, pk: int) -> Response:
        """Takes the order out of work."""
        said = values_of(CancelSerializer(data=request.data))
        order_state.cancel(self.get_object(), by=request.user, key=key_of(request), why=said["why"])
        return self._detail()

    @extend_schema(request=Keyed, responses=OrderDetailSerializer)
    @action(detail=True, methods=["post"], url_path="hand-over")
    def hand_over(self, request: Request, pk: int) -> Response:
        """The customer has the parts."""
        values_of(Keyed(data=request.data))
        order_state.hand_over(self.get_object(), by=request.user, key=key_of(request))
        return self._detail()

    @extend_schema(request=Keyed, responses=OrderDetailSerializer)
    @action(detail=True, methods=["post"], url_path="take-back")
    def take_back(self, request: Request, pk: int) -> Response:
        """Undoes handing over."""
        values_of(Keyed(data=request.data))
        order_state.take_back(self.get_object(), by=request.user, key=key_of(request))
        return self._detail()
