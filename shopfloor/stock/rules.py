"""Finds the cutting rule for a material at a thickness: for that thickness, else the material's own, else ours."""

from decimal import Decimal

from nesting.model.nest import BarRules, SheetRules
from nesting.model.part import QUARTER_TURNS
from nesting.model.part import Turns as TurnsNoun
from shopfloor.stock.choices import Seam, Turns
from shopfloor.stock.models import CuttingRule, Kind, Machine, Material

TURNS: dict[str, TurnsNoun] = {Turns.QUARTER: QUARTER_TURNS, Turns.HALF: (0.0, 180.0), Turns.ANY: "any"}


def rule_for(material: Material, kind: str, thickness_mm: Decimal | None) -> CuttingRule:
    """The shop's rule, or an unsaved one with our defaults (gap 5 mm or the thickness, margin 10 mm) where it has none.

    The defaults are common practice, no source: a gap of about one thickness and not under 5 mm.
    """
    rules = material.rules.filter(kind=kind)
    found = rules.filter(thickness_mm=thickness_mm).first() or rules.filter(thickness_mm=None).first()
    if found:
        return found
    return CuttingRule(
        material=material, kind=kind, thickness_mm=thickness_mm, gap_mm=max(Decimal(5), thickness_mm or Decimal(0))
    )


def most_kinds_by_rule() -> dict[tuple[int, Decimal | None], int | None]:
    """How many different parts may lie on a sheet by each rule there is, by material id and thickness."""
    rules = CuttingRule.objects.filter(kind=Kind.SHEET)
    return {(m, t): most for m, t, most in rules.values_list("material_id", "thickness_mm", "most_kinds")}


def sheet_rules(rule: CuttingRule, machine: Machine, *, together: bool = False) -> SheetRules:
    """What the material asks for and what the machine keeps free; `together` keeps kits on as few sheets as can be."""
    return SheetRules(
        float(rule.gap_mm),
        float(rule.margin_mm),
        TURNS[rule.turns],
        sides=machine.sides,
        most_kinds=rule.most_kinds,
        together=together,
    )


def bar_rules(rule: CuttingRule, machine: Machine) -> BarRules:
    """Where it matters on which side of a piece the seam lies, no piece is turned about the bar's axis.

    End for end a piece keeps its top and bottom, but its front and back change over.
    """
    seam = rule.seam_towards
    return BarRules(
        float(rule.gap_mm),
        float(machine.chuck_dead_mm or 0),
        float(machine.front_trim_mm),
        turns=(0.0,) if seam else "any",
        flip=seam in ("", Seam.UP, Seam.DOWN),
    )


def machines_for(kind: str, material: Material) -> list[Machine]:
    """Machines in use that cut this kind of stock in this material, by name."""
    machines = Machine.objects.filter(in_use=True).prefetch_related("materials")
    fits = [m for m in machines if (m.cuts_sheet if kind == Kind.SHEET else m.cuts_tube)]
    return [m for m in fits if not m.materials.all() or material in m.materials.all()]
