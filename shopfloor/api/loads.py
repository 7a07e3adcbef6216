"""How a load reads: the sheet or bar to put on, what to watch for, and its pieces."""

from typing import Any

from django.db.models import Prefetch, QuerySet
from rest_framework import serializers

from shopfloor.floor.models import Load, Workpiece
from shopfloor.floor.undo import last_mark
from shopfloor.stock.rules import rule_for


class WorkpieceSerializer(serializers.ModelSerializer):
    """One piece; `number` is its place on the picture and in the cut file."""

    part_name = serializers.CharField(source="line.part")
    order_number = serializers.CharField(source="line.order.number")
    customer_name = serializers.CharField(source="line.order.customer")

    class Meta:
        model = Workpiece
        fields = ("number", "state", "reason", "line", "part_name", "order_number", "customer_name")


class LoadSerializer(serializers.ModelSerializer):
    """One sheet or bar to cut. `heat_no` is known once it is pulled."""

    name = serializers.CharField(source="__str__")
    nest = serializers.IntegerField(source="layout.nest_id")
    kind = serializers.CharField(source="layout.nest.kind")
    group = serializers.CharField(source="layout.nest.group", help_text="Material and thickness or section.")
    machine_name = serializers.CharField(source="machine")
    stock_name = serializers.CharField(source="stock")
    piece_count = serializers.IntegerField(source="layout.piece_count")
    pulled_by_name = serializers.CharField(source="pulled_by", default=None, allow_null=True)

    class Meta:
        model = Load
        fields = (
            "id",
            "name",
            "nest",
            "layout",
            "copy_no",
            "kind",
            "group",
            "machine",
            "machine_name",
            "stock",
            "stock_name",
            "state",
            "due_on",
            "released_at",
            "piece_count",
            "pulled_by",
            "pulled_by_name",
            "pulled_at",
            "cut_at",
            "heat_no",
            "remnant",
        )
        read_only_fields = fields


class LoadDetailSerializer(LoadSerializer):
    """A load with all that is needed at the machine. The picture and the cut file are those of its layout.

    The cautions are the usual ones and not complete: the machine's manual and the shop's competent persons decide.
    """

    stock_heat_no = serializers.CharField(source="stock.heat_no", help_text="Of the stock in the rack.")
    stock_place = serializers.CharField(source="stock.place")
    stock_mass_kg = serializers.FloatField(source="stock.mass_kg")
    cut_length_mm = serializers.FloatField(source="layout.cut_length_mm")
    pierce_count = serializers.IntegerField(source="layout.pierce_count")
    cut_file_name = serializers.CharField(source="layout.cut_file_name")
    cautions = serializers.SerializerMethodField()
    loading_side = serializers.CharField(source="machine.loading_side", help_text='"left", "right", or "" for sheet.')
    seam_towards = serializers.SerializerMethodField(help_text="Where the weld seam of a tube lies, or any.")
    settings_note = serializers.SerializerMethodField()
    can_undo = serializers.SerializerMethodField(help_text='The mark that undo would take back, or "".')
    workpieces = WorkpieceSerializer(many=True)

    class Meta(LoadSerializer.Meta):
        fields = (
            *LoadSerializer.Meta.fields,
            "stock_heat_no",
            "stock_place",
            "stock_mass_kg",
            "cut_length_mm",
            "pierce_count",
            "cut_file_name",
            "cautions",
            "loading_side",
            "seam_towards",
            "settings_note",
            "can_undo",
            "workpieces",
        )
        read_only_fields = fields

    def get_cautions(self, load: Load) -> list[str]:
        return load.layout.nest.material.cautions + load.stock.handling_cautions

    def get_settings_note(self, load: Load) -> str:
        nest = load.layout.nest
        return rule_for(nest.material, nest.kind, nest.thickness_mm).settings_note

    def get_seam_towards(self, load: Load) -> str:
        nest = load.layout.nest
        return rule_for(nest.material, nest.kind, nest.thickness_mm).seam_towards

    def get_can_undo(self, load: Load) -> str:
        mark: Any = last_mark(load)
        return mark.verb if mark else ""


def light_loads() -> QuerySet[Load]:
    """Loads with what their names need, without pictures, cut files and results."""
    loads = Load.objects.select_related(
        "layout__nest__material",
        "layout__nest__section",
        "machine",
        "stock__material",
        "stock__section",
        "pulled_by",
    )
    return loads.defer(
        "layout__picture", "layout__cut_file", "layout__flat_file", "layout__nest__result", "layout__nest__best_picture"
    )


def loads_with_pieces() -> QuerySet[Load]:
    """`light_loads` with their workpieces and whose each is."""
    pieces = Workpiece.objects.select_related("line__part", "line__order__customer")
    pieces = pieces.defer("line__part__shape", "line__part__picture").order_by("number")
    return light_loads().prefetch_related(Prefetch("workpieces", pieces))
