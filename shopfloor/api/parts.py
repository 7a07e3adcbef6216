"""Drawings and the parts read out of them: what was understood, what was found, and the picture."""

from typing import ClassVar

from django.db.models import Count, QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from nesting.model.findings import Severity
from shopfloor.api.history import WithHistory
from shopfloor.api.keys import Keyed, key_of, values_of
from shopfloor.api.lists import ShopViewSet
from shopfloor.api.pictures import PICTURE, picture_answer, picture_schema
from shopfloor.orders.models import Order
from shopfloor.parts.drawing_state import try_again
from shopfloor.parts.models import Drawing, DrawingState, Part
from shopfloor.stock.models import Kind


class FindingSerializer(serializers.Serializer):
    """Something found in a drawing."""

    code = serializers.CharField()
    severity = serializers.ChoiceField([each.value for each in Severity])
    message = serializers.CharField()
    at = serializers.ListField(
        child=serializers.FloatField(), allow_null=True, help_text="[x, y] in mm of the drawing, or null."
    )


class PartSerializer(serializers.ModelSerializer):
    """The figures of one part; lengths in mm, area of a sheet part in mm², metal of a tube part in mm³."""

    section_name = serializers.CharField(source="section", read_only=True, default=None, allow_null=True)

    class Meta:
        model = Part
        fields = (
            "id",
            "drawing",
            "position",
            "name",
            "kind",
            "length_mm",
            "width_mm",
            "area_mm2",
            "volume_mm3",
            "cut_length_mm",
            "hole_count",
            "pierce_count",
            "section",
            "section_name",
        )
        read_only_fields = fields


class DrawingSerializer(serializers.ModelSerializer):
    """A file as it was uploaded, and what reading it came to."""

    kind = serializers.CharField(read_only=True, help_text='"sheet", "tube", "refused", or "" before it was read.')
    findings = serializers.SerializerMethodField()
    part_count = serializers.IntegerField(read_only=True)

    class Meta:
        model = Drawing
        fields = (
            "id",
            "name",
            "state",
            "kind",
            "unit",
            "join_mm",
            "size_bytes",
            "queued_at",
            "read_at",
            "failure",
            "findings",
            "part_count",
        )
        read_only_fields = fields

    @extend_schema_field(FindingSerializer(many=True))
    def get_findings(self, drawing: Drawing) -> list[dict[str, object]]:
        return drawing.findings


class DrawingWithPartsSerializer(DrawingSerializer):
    parts = PartSerializer(many=True, read_only=True)

    class Meta(DrawingSerializer.Meta):
        fields = (*DrawingSerializer.Meta.fields, "parts")
        read_only_fields = fields


class DrawingFilter(filters.FilterSet):
    state = filters.MultipleChoiceFilter(choices=DrawingState.choices)
    name = filters.CharFilter(lookup_expr="icontains", help_text="A part of the file's name.")
    order = filters.ModelChoiceFilter(field_name="order_files__order", queryset=Order.objects.all())


class PartFilter(filters.FilterSet):
    kind = filters.ChoiceFilter(choices=Kind.choices)
    name = filters.CharFilter(lookup_expr="icontains", help_text="A part of its name.")
    drawing = filters.ModelChoiceFilter(queryset=Drawing.objects.all())


class DrawingViewSet(WithHistory, mixins.ListModelMixin, mixins.RetrieveModelMixin, ShopViewSet):
    serializer_class = DrawingSerializer
    filterset_class = DrawingFilter
    ordering_fields = ("name", "queued_at", "read_at", "size_bytes")
    ordering = ("-queued_at",)
    takes: ClassVar = {"try_again": "enter-order"}
    queryset = Drawing.objects.all()

    def get_queryset(self) -> QuerySet[Drawing]:
        drawings = Drawing.objects.annotate(part_count=Count("parts", distinct=True))
        if self.action == "picture":
            return Drawing.objects.only("name", "picture")
        drawings = drawings.defer("picture")
        if self.action in ("list", "history"):
            return drawings
        return drawings.prefetch_related("parts__section")

    def get_serializer_class(self) -> type[serializers.BaseSerializer]:
        return DrawingSerializer if self.action == "list" else DrawingWithPartsSerializer

    @picture_schema
    @action(detail=True, renderer_classes=PICTURE)
    def picture(self, request: Request, pk: int) -> Response:
        """The drawing as it was understood, its findings marked."""
        drawing = self.get_object()
        return picture_answer(drawing.picture, str(drawing))

    @extend_schema(request=Keyed, responses=DrawingWithPartsSerializer)
    @action(detail=True, methods=["post"], url_path="try-again")
    def try_again(self, request: Request, pk: int) -> Response:
        """Reads a drawing once more whose reading failed."""
        values_of(Keyed(data=request.data))
        try_again(self.get_object(), by=request.user, key=key_of(request))
        return Response(self.get_serializer(self.get_object()).data)


class PartViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, ShopViewSet):
    serializer_class = PartSerializer
    filterset_class = PartFilter
    ordering_fields = ("name", "length_mm", "width_mm", "cut_length_mm")
    ordering = ("drawing", "position")
    queryset = Part.objects.all()

    def get_queryset(self) -> QuerySet[Part]:
        if self.action == "picture":
            return Part.objects.only("name", "picture")
        return Part.objects.select_related("section").defer("shape", "picture")

    @picture_schema
    @action(detail=True, renderer_classes=PICTURE)
    def picture(self, request: Request, pk: int) -> Response:
        """The part with its measures."""
        part = self.get_object()
        return picture_answer(part.picture, str(part))
