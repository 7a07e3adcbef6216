from datetime import date
from decimal import Decimal

import pytest

from nesting.geometry.contour import Contour
from nesting.model.nest import BarJob, SheetJob
from nesting.records.parts import path_to_record
from shopfloor.orders.models import Grain
from shopfloor.planning.job import REMNANT_DISCOUNT, demands_of, job_of, machine_takes, part_names, stock_id, stock_name
from tests.factories.orders import ConfirmedOrderFactory
from tests.factories.parts import part_row, plate, sheet_part
from tests.factories.stock import BarFactory, CuttingRuleFactory, MachineFactory, SheetFactory, TubeMachineFactory

pytestmark = pytest.mark.django_db


def job_for(shop, line):
    nest = shop.ask(line)
    return job_of(nest, demands_of(nest))


def test_the_same_part_of_several_orders_is_laid_out_as_one(shop):
    shop.sheets()
    part = sheet_part()
    shop.line(2, part)
    job = job_for(shop, shop.line(3, part))
    assert isinstance(job, SheetJob)
    assert [(d.part.name, d.count) for d in job.demands] == [(part.name, 5)]


def test_what_is_laid_out_as_one_is_due_when_the_first_of_it_is(shop):
    shop.sheets()
    part = sheet_part()
    shop.line(2, part, ConfirmedOrderFactory(due_on=date(2026, 12, 24)))
    job = job_for(shop, shop.line(3, part, ConfirmedOrderFactory(due_on=date(2026, 12, 3))))
    assert [d.due for d in job.demands] == [date(2026, 12, 3)]


def test_orders_kept_together_are_kits_with_parts_of_their_own(shop):
    shop.sheets()
    part, other = sheet_part(), sheet_part()
    first, second = shop.line(2, part), shop.line(3, part)
    alone = shop.line(4, other, second.order)
    nest = shop.ask(first, together=True)
    job = job_of(nest, demands_of(nest))
    assert nest.kits_together
    assert job.rules.together
    assert {(d.part.name, d.count, d.kit) for d in job.demands} == {
        (f"{part.name}, order {first.order.number}", 2, first.order.number),
        (f"{part.name}, order {second.order.number}", 3, second.order.number),
        (alone.part.name, 4, second.order.number),
    }


def test_a_file_called_like_a_part_of_an_order_is_told_apart(shop):
    shop.sheets()
    part = sheet_part()
    first, second = shop.line(2, part), shop.line(3, part)
    sly = shop.line(1, part_row(plate(f"{part.name}, order {second.order.number}", 70, 60)))
    names = part_names([first, second, sly], by_order=True)
    assert len(set(names.values())) == 3


def test_what_may_fill_room_is_not_wanted_but_may_be_laid(shop):
    shop.sheets()
    wanted, other = shop.line(5), shop.line(4)
    nest = shop.ask(wanted, only={wanted.pk: 2}, fill={wanted.pk: 9, other.pk: 3}, together=True)
    job = job_of(nest, demands_of(nest))
    assert {(d.part.name, d.count, d.fill_up_to, d.kit) for d in job.demands} == {
        (wanted.part.name, 2, 5, wanted.order.number),
        (other.part.name, 0, 3, ""),
    }


def test_two_parts_of_one_name_are_told_apart_by_their_row(shop):
    shop.sheets()
    first, second = part_row(plate("bracket", 100, 60)), part_row(plate("bracket", 80, 60))
    shop.line(1, first)
    job = job_for(shop, shop.line(2, second))
    assert {d.part.name: d.count for d in job.demands} == {"bracket": 1, f"bracket ({second.pk})": 2}
    assert {d.part.name: d.part.bounds.width for d in job.demands} == {"bracket": 100, f"bracket ({second.pk})": 80}


def test_a_part_whose_name_looks_like_ours_is_told_apart_too(shop):
    shop.sheets()
    first = part_row(plate("bracket", 100, 60))
    second = part_row(plate("bracket", 80, 60))
    sly = part_row(plate(f"bracket ({second.pk})", 70, 60))
    lines = [shop.line(1, part) for part in (sly, first, second)]
    names = part_names(lines)
    assert len(set(names.values())) == 3


def test_one_part_with_two_grain_directions_is_laid_out_as_two(shop):
    shop.sheets()
    part = sheet_part()
    shop.line(1, part, grain=Grain.ALONG)
    job = job_for(shop, shop.line(2, part, grain=Grain.ACROSS))
    assert {(d.turns, d.count) for d in job.demands} == {((0.0, 180.0), 1), ((90.0, 270.0), 2)}
    assert len({d.part.name for d in job.demands}) == 2


def test_a_part_without_grain_takes_the_rules_turns(shop):
    shop.sheets()
    assert job_for(shop, shop.line()).demands[0].turns is None


def test_names_do_not_depend_on_the_order_of_lines(shop):
    first, second = part_row(plate("bracket", 100, 60)), part_row(plate("bracket", 80, 60))
    lines = [shop.line(1, part, order=ConfirmedOrderFactory()) for part in (second, first, second)]
    assert part_names(lines) == part_names(lines[::-1])
    assert part_names(lines)[lines[0].pk] == part_names(lines)[lines[2].pk]


def test_stock_is_what_is_free_and_fits_the_machine(shop):
    fits = shop.sheets(on_hand=5, reserved=2)
    shop.sheets(length_mm=3001)
    shop.sheets(width_mm=1501)
    endless = shop.sheets(on_hand=None, length_mm=2000)
    job = job_for(shop, shop.line())
    assert [(stock_id(s.name), s.count) for s in job.stock] == [(fits.pk, 3), (endless.pk, None)]


def test_a_remnant_is_cheaper_and_has_its_outline(shop):
    shape = Contour(((0, 0, 0), (800, 0, 0), (800, 300, 0), (400, 300, 0), (400, 500, 0), (0, 500, 0)))
    shop.sheets(is_remnant=True, length_mm=800, outline=path_to_record(shape))
    shop.sheets()
    remnant, sheet = job_for(shop, shop.line()).stock
    # Source: by hand, 800 × 300 + 400 × 200 mm².
    assert (remnant.outline.area, remnant.price) == (320_000, REMNANT_DISCOUNT * 320_000)
    assert (sheet.outline.area, sheet.price) == (500_000, 500_000)


def test_a_sheet_job_has_the_shops_rules(shop):
    shop.sheets()
    CuttingRuleFactory(material=shop.material, thickness_mm=Decimal(2), gap_mm=7, margin_mm=11)
    rules = job_for(shop, shop.line()).rules
    assert (rules.gap, rules.margin) == (7, 11)


def test_a_bar_job_has_bars_pieces_and_the_machines_dead_end(shop):
    bar, short = shop.bars(on_hand=4), shop.bars(is_remnant=True, length_mm=2500)
    shop.bars(length_mm=6501)
    job = job_for(shop, shop.tube_line(3, length=1250))
    assert isinstance(job, BarJob)
    assert [(stock_id(b.name), b.length, b.count, b.price) for b in job.stock] == [
        (short.pk, 2500, 1, REMNANT_DISCOUNT * 2500),
        (bar.pk, 6000, 4, 6000),
    ]
    assert [(d.part.length, d.count) for d in job.demands] == [(1250, 3)]
    assert (job.rules.gap, job.rules.dead_end) == (5, 200)


@pytest.mark.parametrize(
    ("machine", "item", "takes"),
    [
        (MachineFactory, lambda: SheetFactory(length_mm=3000, width_mm=1500), True),
        (MachineFactory, lambda: SheetFactory(length_mm=3000, width_mm=1500.1), False),
        (MachineFactory, lambda: SheetFactory(length_mm=3000.1, width_mm=1500), False),
        (MachineFactory, BarFactory, False),
        (TubeMachineFactory, SheetFactory, False),
        (TubeMachineFactory, lambda: BarFactory(length_mm=6500), True),
        (TubeMachineFactory, lambda: BarFactory(length_mm=6500.1), False),
    ],
)
def test_a_machine_takes_what_lies_on_its_table_or_fits_its_length(machine, item, takes):
    stored = item()
    stored.refresh_from_db()
    assert machine_takes(machine(), stored) == takes


def test_a_stock_name_tells_size_and_number():
    sheet, bar = SheetFactory(), BarFactory()
    assert stock_name(sheet) == f"1000 x 500, no. {sheet.pk}"
    assert stock_name(bar) == f"6000, no. {bar.pk}"
    assert stock_id(stock_name(bar)) == bar.pk
