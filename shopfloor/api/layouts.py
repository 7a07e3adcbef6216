"""The sheets and bars of nests: figures, picture and cut file of each."""

from django.db.models import QuerySet
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor.api.lists import ShopViewSet
from shopfloor.api.pictures import (
    CUT_FILE,
    PICTURE,
    cut_file_answer,
    cut_file_schema,
    picture_answer,
    picture_schema,
)
from shopfloor.planning.models import Layout


class RemnantSerializer(serializers.Serializer):
    """What is left of a sheet or bar to keep. `outline` are [x, y] corners where it is not a rectangle."""

    length_mm = serializers.FloatField()
    width_mm = serializers.FloatField(required=False, allow_null=True)
    outline = serializers.JSONField(required=False, allow_null=True)


class LayoutSerializer(serializers.ModelSerializer):
    """One sheet or bar of a nest, to be cut `copies` times."""

    stock_name = serializers.CharField(source="stock", read_only=True)
    remnant = RemnantSerializer(read_only=True, allow_null=True)

    class Meta:
        model = Layout
        fields = (
            "id",
            "nest",
            "position",
            "copies",
            "stock",
            "stock_name",
            "piece_count",
            "yield_share",
            "cut_length_mm",
            "pierce_count",
            "remnant",
            "cut_file_name",
        )
        read_only_fields = fields


def light_layouts() -> QuerySet[Layout]:
    """Layouts with their stock, without pictures and cut files."""
    layouts = Layout.objects.select_related("stock__material", "stock__section")
    return layouts.defer("picture", "cut_file").order_by("nest", "position")


class LayoutViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, ShopViewSet):
    """Sheets and bars of nests."""

    serializer_class = LayoutSerializer
    filterset_fields = ("nest", "stock")
    ordering_fields = ("position", "yield_share")
    ordering = ("nest", "position")
    queryset = Layout.objects.all()

    def get_queryset(self) -> QuerySet[Layout]:
        if self.action == "picture":
            return Layout.objects.select_related("nest").only("position", "picture", "nest__kind")
        if self.action == "cut_file":
            return Layout.objects.only("cut_file", "cut_file_name")
        return light_layouts()

    @picture_schema
    @action(detail=True, renderer_classes=PICTURE)
    def picture(self, request: Request, pk: int) -> Response:
        """The sheet or bar with its numbered pieces."""
        layout = self.get_object()
        return picture_answer(layout.picture, str(layout))

    @cut_file_schema
    @action(detail=True, renderer_classes=CUT_FILE, url_path="cut-file")
    def cut_file(self, request: Request, pk: int) -> Response:
        """The file for the machine: DXF in millimetres for a sheet, a cut list for a bar."""
        layout = self.get_object()
        return cut_file_answer(layout.cut_file, layout.cut_file_name)
