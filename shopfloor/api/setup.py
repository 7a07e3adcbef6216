"""What the shop is set up with: materials, tube sections, machines and cutting rules."""

from typing import ClassVar

from django_filters import rest_framework as filters
from rest_framework import mixins, serializers

from shopfloor.api.entries import EntrySerializer, EntryViewSet
from shopfloor.stock.kept_free import FREE_EDGES
from shopfloor.stock.models import SECTION_KEY, CuttingRule, Kind, Machine, Material, TubeSection

SET_UP = {"create": "set-up-shop", "partial_update": "set-up-shop", "destroy": "set-up-shop"}


class MaterialSerializer(EntrySerializer):
    """A material by its trade name. `cautions` follow from its family, with the shop's own after them."""

    cautions = serializers.ListField(child=serializers.CharField(), read_only=True)

    class Meta:
        model = Material
        fields = ("id", "key", "name", "grade", "family", "density_kg_m3", "own_caution", "cautions")
        extra_kwargs: ClassVar = {"name": {"validators": []}}


class MaterialViewSet(EntryViewSet):
    """Materials."""

    queryset = Material.objects.all()
    serializer_class = MaterialSerializer
    filterset_fields = ("family",)
    ordering_fields = ("name", "density_kg_m3")
    ordering = ("name",)
    takes: ClassVar = SET_UP


class TubeSectionSerializer(EntrySerializer):
    """A section of tube, profile or bar.

    For round tube and bar height and width are the diameter; the wall of solid bar is its width.
    """

    name = serializers.CharField(source="__str__", read_only=True)

    class Meta:
        model = TubeSection
        fields = ("id", "key", "name", *SECTION_KEY, "standard")


class TubeSectionViewSet(EntryViewSet):
    """Sections. A section that is read from a drawing and was not known is added by itself."""

    queryset = TubeSection.objects.all()
    serializer_class = TubeSectionSerializer
    filterset_fields = ("shape",)
    ordering_fields = ("shape", "height_mm", "width_mm", "wall_mm")
    ordering = ("shape", "height_mm", "width_mm", "wall_mm")
    one_of = SECTION_KEY
    takes: ClassVar = SET_UP


class MachineSerializer(EntrySerializer):
    """A machine. A table has length and width, a chuck has the longest bar and its dead end; the others stay empty.

    `free_left_mm` to `free_back_mm` are strips along a sheet's edges where nothing is laid, such as for clamps.
    """

    class Meta:
        model = Machine
        fields = (
            "id",
            "key",
            "name",
            "table_length_mm",
            "table_width_mm",
            *FREE_EDGES,
            "longest_bar_mm",
            "chuck_dead_mm",
            "front_trim_mm",
            "loading_side",
            "materials",
            "note",
            "in_use",
        )
        extra_kwargs: ClassVar = {"name": {"validators": []}}


class MachineViewSet(EntryViewSet):
    """Machines."""

    queryset = Machine.objects.prefetch_related("materials")
    serializer_class = MachineSerializer
    filterset_fields = ("in_use",)
    ordering_fields = ("name",)
    ordering = ("name",)
    takes: ClassVar = SET_UP


class CuttingRuleSerializer(EntrySerializer):
    """Gap, margin and turns for a material at one thickness; without thickness, for all others.

    `most_kinds` is how many different parts may lie on one sheet; empty: any number.
    """

    material_name = serializers.CharField(source="material", read_only=True)

    class Meta:
        model = CuttingRule
        fields = (
            "id",
            "key",
            "material",
            "material_name",
            "kind",
            "thickness_mm",
            "gap_mm",
            "margin_mm",
            "turns",
            "most_kinds",
            "seam_towards",
            "settings_note",
        )


class CuttingRuleFilter(filters.FilterSet):
    material = filters.ModelChoiceFilter(queryset=Material.objects.all())
    kind = filters.ChoiceFilter(choices=Kind.choices)


class CuttingRuleViewSet(mixins.DestroyModelMixin, EntryViewSet):
    """Cutting rules."""

    queryset = CuttingRule.objects.select_related("material")
    serializer_class = CuttingRuleSerializer
    filterset_class = CuttingRuleFilter
    ordering_fields = ("material__name", "thickness_mm", "gap_mm")
    ordering = ("material__name", "kind", "thickness_mm")
    one_of = ("material", "kind", "thickness_mm")
    takes: ClassVar = SET_UP
