"""Checks of what is typed on stock pages. What may be said of a stock item is ruled in `correct`."""

from decimal import Decimal
from typing import Any

from django import forms

from shopfloor.stock.kept_free import FREE_EDGES
from shopfloor.stock.models import (
    PROFILE_MEASURES,
    SECTION_KEY,
    CuttingRule,
    Kind,
    Machine,
    Material,
    StockItem,
    TubeSection,
)


class StockItemForm(forms.ModelForm):
    """A sheet, bar or remnant. `not_counted` stands for an empty count: there is always enough."""

    not_counted = forms.BooleanField(label="Not counted: there is always enough", required=False)

    class Meta:
        model = StockItem
        fields = (
            "kind",
            "material",
            "thickness_mm",
            "section",
            "length_mm",
            "width_mm",
            "on_hand",
            "heat_no",
            "place",
            "is_remnant",
        )
        labels = {  # noqa: RUF012 - Django's form
            "kind": "What",
            "thickness_mm": "Thickness, mm (sheet)",
            "section": "Section (tube)",
            "length_mm": "Length, mm",
            "width_mm": "Width, mm (sheet)",
            "on_hand": "How many",
            "place": "Where it lies",
            "is_remnant": "It is a remnant",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.fields["not_counted"].initial = self.instance.on_hand is None

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("not_counted"):
            data["on_hand"] = None
        elif data.get("on_hand") is None and "on_hand" not in self.errors:
            self.add_error("on_hand", "Say how many there are, or tick “not counted”.")
        if data.get("kind") == Kind.TUBE:
            data["thickness_mm"] = data["width_mm"] = None
        elif data.get("kind") == Kind.SHEET:
            data["section"] = None
        return data

    def _post_clean(self) -> None:
        """Leaves the instance alone: the verb in `correct` checks and stores."""

    def stated(self) -> dict[str, Any]:
        """What was said, for the verb."""
        return {name: self.cleaned_data[name] for name in self.Meta.fields}


class MaterialForm(forms.ModelForm):
    class Meta:
        model = Material
        fields = ("name", "grade", "family", "density_kg_m3", "own_caution")
        labels = {"density_kg_m3": "Density, kg/m³", "own_caution": "Our own caution"}  # noqa: RUF012 - Django's form

    def clean_density_kg_m3(self) -> Decimal:
        density: Decimal = self.cleaned_data["density_kg_m3"]
        # Magnesium alloys have about 1740, osmium 22 590: what lies outside is mistyped, mostly g/cm³.
        if not 500 <= density <= 23000:
            raise forms.ValidationError("The density is in kg/m³ and from 500 to 23 000; steel has 7850.")
        return density


class CuttingRuleForm(forms.ModelForm):
    class Meta:
        model = CuttingRule
        fields = (
            "material",
            "kind",
            "thickness_mm",
            "gap_mm",
            "margin_mm",
            "turns",
            "most_kinds",
            "seam_towards",
            "settings_note",
        )
        labels = {  # noqa: RUF012 - Django's form
            "kind": "For",
            "thickness_mm": "Thickness, mm (empty: all others)",
            "gap_mm": "Gap between parts, mm",
            "margin_mm": "Margin from the edge, mm",
            "turns": "Parts may lie at",
            "most_kinds": "Most different parts on a sheet (empty: any)",
            "seam_towards": "Weld seam of tube, as loaded (empty: any way)",
            "settings_note": "Settings note for the operator",
        }

    def clean_thickness_mm(self) -> Decimal | None:
        thickness = self.cleaned_data["thickness_mm"]
        if thickness is not None and not Decimal("0.05") <= thickness <= 100:
            raise forms.ValidationError("The thickness must be 0.05 to 100 mm, or empty.")
        return None if thickness is None else thickness.quantize(Decimal("0.01"))

    def clean_gap_mm(self) -> Decimal:
        return self._not_negative("gap_mm", "gap")

    def clean_margin_mm(self) -> Decimal:
        return self._not_negative("margin_mm", "margin")

    def _not_negative(self, name: str, word: str) -> Decimal:
        value: Decimal = self.cleaned_data[name]
        if value < 0:
            raise forms.ValidationError(f"The {word} cannot be below 0.")
        return value

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if not self.errors:
            of = {name: data[name] for name in ("material", "kind", "thickness_mm")}
            if data["kind"] == Kind.SHEET:
                data["seam_towards"] = ""
            else:
                data["most_kinds"] = None
            if CuttingRule.objects.filter(**of).exclude(pk=self.instance.pk).exists():
                self.add_error("thickness_mm", "There is a rule for this already. Change that one.")
        return data


class MachineForm(forms.ModelForm):
    class Meta:
        model = Machine
        fields = (
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
        labels = {  # noqa: RUF012 - Django's form
            "table_length_mm": "Sheet table: length, mm (empty: cuts no sheet)",
            "table_width_mm": "Sheet table: width, mm",
            "free_left_mm": "Kept free left, mm",
            "free_front_mm": "Kept free front, mm",
            "free_right_mm": "Kept free right, mm",
            "free_back_mm": "Kept free back, mm",
            "longest_bar_mm": "Longest bar, mm (empty: cuts no tube)",
            "chuck_dead_mm": "Far end held by the chuck, never cut, mm",
            "front_trim_mm": "Front end trimmed, mm",
            "loading_side": "Bars are loaded, seen from the machine's front",
            "materials": "Materials it cuts (none chosen: every one)",
        }
        widgets = {"materials": forms.CheckboxSelectMultiple}  # noqa: RUF012 - Django's form

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if self.errors:
            return data
        length, width, bar, chuck = (
            data[name] for name in ("table_length_mm", "table_width_mm", "longest_bar_mm", "chuck_dead_mm")
        )
        if (length is None) != (width is None):
            missing = "table_width_mm" if width is None else "table_length_mm"
            self.add_error(missing, "A sheet table has a length and a width: give both, or none.")
        elif length is not None and not (length and width):
            self.add_error("table_length_mm", "The sheet table must be longer and wider than 0 mm.")
        if bar is None and chuck is not None:
            self.add_error("longest_bar_mm", "Give the longest bar too, or leave the end held by the chuck empty.")
        elif bar is not None and chuck is None:
            self.add_error("chuck_dead_mm", "Say how much of the bar's end the chuck holds; 0 where all can be cut.")
        elif bar is not None and bar <= chuck:
            self.add_error("longest_bar_mm", "The longest bar must be longer than the end that the chuck holds.")
        if bar is None:
            data["loading_side"] = ""
        # Without a table there is no edge to keep free.
        data |= {name: 0 if length is None else data[name] or 0 for name in FREE_EDGES}
        if length and width:
            self._leave_room(data, length, width)
        if not self.errors and length is None and bar is None:
            raise forms.ValidationError("Say what it cuts: give the size of its sheet table, its longest bar, or both.")
        return data

    def _leave_room(self, data: dict[str, Any], length: int, width: int) -> None:
        """Nothing could be laid on a table whose edges kept free meet."""
        for one, other, measure in (
            ("free_left_mm", "free_right_mm", length),
            ("free_front_mm", "free_back_mm", width),
        ):
            if data[one] + data[other] >= measure:
                names = f"{one.split('_')[1]} and {other.split('_')[1]}"
                self.add_error(one, f"The strips at the {names} edges leave nothing of the table's {measure} mm.")


class SectionForm(forms.ModelForm):
    """Measures that a shape does not have may be left empty."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        for name in PROFILE_MEASURES:
            self.fields[name].required = False

    def clean(self) -> dict[str, object]:
        values = super().clean() or self.cleaned_data
        return values | {name: Decimal(0) for name in PROFILE_MEASURES if name in values and values[name] is None}

    class Meta:
        model = TubeSection
        fields = (*SECTION_KEY, "standard")
        labels = {  # noqa: RUF012 - Django's form
            "height_mm": "Height, or diameter of round tube and bar, mm",
            "width_mm": "Width, or diameter again, mm",
            "wall_mm": "Wall, leg or web, mm (solid bar: the width again)",
            "corner_radius_mm": "Outer corner radius, mm (round tube, rolled profiles: 0)",
            "flange_mm": "Flange of channel, I and T, mm (all others: 0)",
            "root_radius_mm": "Root radius of open profiles, mm",
            "toe_radius_mm": "Toe radius of open profiles, mm",
            "standard": "Standard, such as EN 10219-2",
        }
