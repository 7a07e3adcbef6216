"""The sheets and bars of nests: figures, picture and cut files of each."""

from django.db.models import Q, QuerySet
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor.api.lists import ShopViewSet
from shopfloor.api.pictures import (
    CUT_FILE,
    CUT_LIST,
    FLAT_FILE,
    PICTURE,
    cut_file_answer,
    cut_file_schema,
    cut_list_schema,
    flat_file_schema,
    picture_answer,
    picture_schema,
)
from shopfloor.planning.cut_files import cut_list_on_paper
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
    has_flat_file = serializers.BooleanField(read_only=True, help_text="Whether it is a bar that can be laid flat.")

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
            "has_flat_file",
        )
        read_only_fields = fields


def light_layouts() -> QuerySet[Layout]:
    """Layouts with their stock, without pictures and cut files."""
    layouts = Layout.objects.select_related("stock__material", "stock__section")
    layouts = layouts.annotate(has_flat_file=Q(flat_file__isnull=False))
    return layouts.defer("picture", "cut_file", "flat_file").order_by("nest", "position")


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
        if self.action == "flat_file":
            return Layout.objects.only("flat_file", "cut_file_name", "position", "nest").select_related("nest")
        if self.action == "cut_list":
            return Layout.objects.select_related("nest").defer("picture", "cut_file", "flat_file")
        return light_layouts()

    @picture_schema
    @action(detail=True, renderer_classes=PICTURE)
    def picture(self, request: Request, pk: int) -> Response:
        """The sheet or bar with its numbered pieces."""
        layout = self.get_object()
        return picture_answer(layout.picture, str(layout))

    @flat_file_schema
    @action(detail=True, renderer_classes=FLAT_FILE, url_path="flat-file")
    def flat_file(self, request: Request, pk: int) -> Response:
        """The bar laid flat, DXF in millimetres; not there for a sheet, or where an end cut is not known."""
        layout = self.get_object()
        if layout.flat_file is None:
            raise NotFound(f"{layout} has no file of the bar laid flat.")
        return cut_file_answer(layout.flat_file, layout.named("dxf"))

    @cut_list_schema
    @action(detail=True, renderer_classes=CUT_LIST, url_path="cut-list")
    def cut_list(self, request: Request, pk: int) -> Response:
        """The cut list of a bar on paper, for a saw; not there for a sheet."""
        layout = self.get_object()
        content = cut_list_on_paper(layout)
        if content is None:
            raise NotFound(f"{layout} is a sheet, which no saw cuts.")
        return cut_file_answer(content, layout.named("pdf"))

    @cut_file_schema
    @action(detail=True, renderer_classes=CUT_FILE, url_path="cut-file")
    def cut_file(self, request: Request, pk: int) -> Response:
        """The file for the machine: DXF in millimetres for a sheet, a cut list for a bar."""
        layout = self.get_object()
        return cut_file_answer(layout.cut_file, layout.cut_file_name)
