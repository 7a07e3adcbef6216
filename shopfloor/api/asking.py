"""What programs say when they ask for a nest or a rival of one, or throw one away."""

from rest_framework import serializers

from shopfloor.api.keys import Keyed
from shopfloor.planning.demand import GroupKey, key_from_slug
from shopfloor.stock.models import Machine


class AskSerializer(Keyed):
    """Which pieces to nest, on which machine, and how long the engine may think."""

    group = serializers.CharField(max_length=80, help_text="As the list of waiting groups names it.")
    machine = serializers.PrimaryKeyRelatedField(queryset=Machine.objects.all(), required=False, allow_null=True)
    budget_s = serializers.IntegerField(required=False, allow_null=True)
    seed = serializers.IntegerField(required=False, min_value=0, max_value=2**31 - 1)
    only = serializers.DictField(
        child=serializers.IntegerField(),
        required=False,
        allow_null=True,
        help_text="{line id: count} to nest a part of what waits; by default all of it.",
    )

    fill = serializers.DictField(
        child=serializers.IntegerField(),
        required=False,
        allow_null=True,
        help_text="{line id: count} of further pieces that may be laid in room left over on the sheets; no sheet is "
        "taken for them, and what finds no room waits on.",
    )
    together = serializers.BooleanField(
        required=False, default=False, help_text="Keeps the parts of each order on as few sheets as can be."
    )

    def validate_group(self, slug: str) -> GroupKey:
        try:
            return key_from_slug(slug)
        except ValueError as fault:
            raise serializers.ValidationError("There is no such group. Take one from the list of groups.") from fault

    def validate_only(self, only: dict[str, int] | None) -> dict[int, int] | None:
        if only is None:
            return None
        if not all(line.isascii() and line.isdigit() and len(line) < 19 for line in only):
            raise serializers.ValidationError("Name lines by their ids.")
        return {int(line): count for line, count in only.items()}

    validate_fill = validate_only


class RivalSerializer(Keyed):
    budget_s = serializers.IntegerField(required=False, allow_null=True)


class ThrowAwaySerializer(Keyed):
    why = serializers.CharField(required=False, default="", allow_blank=True, max_length=500)
