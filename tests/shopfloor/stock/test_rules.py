from decimal import Decimal

import pytest

from nesting.model.nest import Sides
from nesting.model.part import QUARTER_TURNS
from shopfloor.stock.choices import Seam, Turns
from shopfloor.stock.models import Kind
from shopfloor.stock.rules import bar_rules, machines_for, rule_for, sheet_rules
from tests.factories.stock import CuttingRuleFactory, MachineFactory, MaterialFactory, TubeMachineFactory

pytestmark = pytest.mark.django_db


def test_the_rule_for_the_thickness_comes_before_the_one_for_all_others():
    steel = MaterialFactory()
    other = CuttingRuleFactory(material=steel, gap_mm=Decimal(6))
    three = CuttingRuleFactory(material=steel, thickness_mm=Decimal(3), gap_mm=Decimal(8))
    assert rule_for(steel, Kind.SHEET, Decimal("3.00")) == three
    assert rule_for(steel, Kind.SHEET, Decimal(4)) == other


def test_rules_of_another_material_or_kind_do_not_count():
    steel = MaterialFactory()
    CuttingRuleFactory(thickness_mm=Decimal(3))
    CuttingRuleFactory(material=steel, kind=Kind.TUBE)
    assert rule_for(steel, Kind.SHEET, Decimal(3)).pk is None


@pytest.mark.parametrize(("thickness", "gap"), [("2", "5"), ("5", "5"), ("12", "12")])
def test_without_a_rule_the_gap_is_the_thickness_and_not_under_5_mm(thickness, gap):
    # Common practice, no source.
    rule = rule_for(MaterialFactory(), Kind.SHEET, Decimal(thickness))
    assert (rule.gap_mm, rule.margin_mm, rule.turns) == (Decimal(gap), Decimal(10), Turns.QUARTER)


def test_a_bar_without_a_rule_has_a_gap_of_5_mm():
    assert rule_for(MaterialFactory(), Kind.TUBE, None).gap_mm == Decimal(5)


@pytest.mark.parametrize(
    ("turns", "noun"), [(Turns.QUARTER, QUARTER_TURNS), (Turns.HALF, (0.0, 180.0)), (Turns.ANY, "any")]
)
def test_the_rule_becomes_the_librarys_rules(turns, noun):
    rules = sheet_rules(CuttingRuleFactory(gap_mm=Decimal("7.5"), margin_mm=Decimal(12), turns=turns), MachineFactory())
    assert (rules.gap, rules.margin, rules.turns, rules.mirror) == (7.5, 12.0, noun, False)


def test_a_sheet_keeps_free_what_the_machine_needs_for_its_clamps():
    machine = MachineFactory(free_left_mm=60, free_front_mm=35, free_right_mm=20, free_back_mm=0)
    # Seen from the machine's front the sheet's length runs to the right and its width to the back.
    assert sheet_rules(CuttingRuleFactory(), machine).sides == Sides(left=60.0, bottom=35.0, right=20.0, top=0.0)
    assert not sheet_rules(CuttingRuleFactory(), MachineFactory()).sides


def test_the_rule_says_how_many_different_parts_may_lie_on_a_sheet():
    assert sheet_rules(CuttingRuleFactory(most_kinds=3), MachineFactory()).most_kinds == 3
    assert sheet_rules(CuttingRuleFactory(), MachineFactory()).most_kinds is None


def test_bars_take_the_dead_end_and_the_trim_from_the_machine():
    machine = TubeMachineFactory(chuck_dead_mm=180, front_trim_mm=15)
    rules = bar_rules(CuttingRuleFactory(kind=Kind.TUBE, gap_mm=Decimal(3)), machine)
    assert (rules.gap, rules.dead_end, rules.lead_end) == (3.0, 180.0, 15.0)


def test_a_machine_cuts_what_it_has_a_table_or_a_chuck_for_and_only_while_in_use():
    steel, brass = MaterialFactory(), MaterialFactory()
    sheet, tube = MachineFactory(name="A"), TubeMachineFactory(name="B")
    both = MachineFactory(name="C", longest_bar_mm=6000, chuck_dead_mm=100)
    only_brass = MachineFactory(name="D")
    only_brass.materials.add(brass)
    MachineFactory(name="E", in_use=False)
    assert machines_for(Kind.SHEET, steel) == [sheet, both]
    assert machines_for(Kind.TUBE, steel) == [tube, both]
    assert machines_for(Kind.SHEET, brass) == [sheet, both, only_brass]


@pytest.mark.parametrize(
    ("seam", "turns", "flip"),
    [("", "any", True), (Seam.UP, (0.0,), True), (Seam.DOWN, (0.0,), True), (Seam.OPERATOR, (0.0,), False)],
)
def test_where_the_seam_matters_pieces_are_not_turned_away_from_it(seam, turns, flip):
    # Source: by hand: turned end for end about its height axis a piece changes front and back over, not top and bottom.
    rules = bar_rules(CuttingRuleFactory(kind=Kind.TUBE, seam_towards=seam), TubeMachineFactory())
    assert (rules.turns, rules.flip) == (turns, flip)
