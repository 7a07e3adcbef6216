"""One sheet of a ready nest changed by hand: counted, checked again, drawn anew, or refused without a trace.

Plates are 100 x 60, the sheet 1000 x 500, gap 5 and margin 10; rows by hand lay them from the lower left.
"""

import io
import uuid
from datetime import date

import ezdxf
import pytest

from nesting import route
from nesting.geometry.contour import Contour
from nesting.model.nest import Placement
from nesting.model.part import SheetPart
from shopfloor.base.errors import BadInput, NotYourRole, Refused, WrongState
from shopfloor.floor.models import Workpiece
from shopfloor.floor.release import recall, release
from shopfloor.planning.hand import NotToBeCut, pieces_from_record, save_by_hand
from shopfloor.planning.hand_change import SheetByHand, piece_key
from shopfloor.planning.hand_page import board_of
from shopfloor.planning.nest_state import throw_away
from shopfloor.stock.models import Machine
from tests.factories.orders import ConfirmedOrderFactory
from tests.factories.parts import part_row, sheet_part
from tests.ledger import assert_all_agrees

pytestmark = pytest.mark.django_db


def sheet_now(nest, position=1, *, one_copy=False):
    """The sheet as its page has it."""
    nest.refresh_from_db()
    board = board_of(nest, position)
    return SheetByHand(nest.version, position, pieces_from_record(board["pieces"]), one_copy)


def with_pieces(sheet, pieces):
    return SheetByHand(sheet.version, sheet.position, tuple(pieces), sheet.one_copy)


def moved(piece, dx=0.0, dy=0.0, **fields):
    values = {"turn": piece.turn, "mirrored": piece.mirrored} | fields
    return Placement(piece.part, piece.x + dx, piece.y + dy, values["turn"], values["mirrored"])


def save(nest, sheet, shop, **fields):
    return save_by_hand(nest, sheet, by=shop.people.office, **fields)


@pytest.fixture
def line(shop):
    shop.sheets(on_hand=5)
    return shop.line(quantity=3)


@pytest.fixture
def nest(shop, line):
    return shop.ready_nest(line)


def test_a_piece_in_a_strip_that_stays_free_is_refused(shop, line):
    Machine.objects.filter(pk=shop.machine.pk).update(free_front_mm=50)
    nest = shop.ready_nest(line)
    assert board_of(nest, 1)["sides_mm"] == [0, 50, 0, 0]
    sheet = sheet_now(nest)
    with pytest.raises(NotToBeCut, match="50 mm stay free") as refusal:
        save(nest, with_pieces(sheet, [*sheet.pieces[:2], moved(sheet.pieces[2], dy=-1)]), shop)
    assert [fault.code for fault in refusal.value.findings] == ["side-not-free"]
    save(nest, with_pieces(sheet, [*sheet.pieces[:2], moved(sheet.pieces[2], dy=1)]), shop)
    assert_all_agrees()


@pytest.fixture
def filled(shop):
    """Two wanted plates, and three that fill room; two more of these wait."""
    shop.sheets(on_hand=5, length_mm=540)
    wanted, other = shop.line(2), shop.line(5, order=ConfirmedOrderFactory(due_on=date(2026, 12, 3)))
    shop.sheets(on_hand=0)
    nest = shop.ready_nest(wanted, only={wanted.pk: 2}, fill={other.pk: 3})
    assert nest.filled_count == 3
    return nest, wanted, other


def counts_of(nest):
    nest.refresh_from_db()
    return (
        (nest.wanted_count, nest.placed_count, nest.filled_count),
        {d.line_id: (d.count, d.fill_count) for d in nest.demands.all()},
    )


def test_pieces_that_fill_room_are_taken_off_and_added_like_others(shop, filled):
    nest, wanted, other = filled
    sheet = sheet_now(nest)
    of_other = [piece for piece in sheet.pieces if piece.part == piece_key(other)]
    save(nest, with_pieces(sheet, [piece for piece in sheet.pieces if piece not in of_other[1:]]), shop)
    assert counts_of(nest) == ((2, 3, 1), {wanted.pk: (2, 0), other.pk: (1, 1)})
    assert nest.unplaced == []
    assert_all_agrees()
    # What a person adds is wanted.
    sheet = sheet_now(nest)
    more = [moved(of_other[0], dy=100 + 70 * k) for k in range(4)]
    save(nest, with_pieces(sheet, [*sheet.pieces, *more]), shop)
    assert counts_of(nest) == ((6, 7, 1), {wanted.pk: (2, 0), other.pk: (5, 1)})
    assert_all_agrees()
    loads = release(nest, by=shop.people.office)
    assert sum(load.workpieces.count() for load in loads) == 7
    assert_all_agrees()


def test_of_one_part_what_fills_room_is_given_up_before_what_is_wanted(shop):
    shop.sheets(on_hand=5)
    part = sheet_part()
    soon = shop.line(2, part, ConfirmedOrderFactory(due_on=date(2026, 12, 3)))
    late = shop.line(2, part, ConfirmedOrderFactory(due_on=date(2026, 12, 24)))
    nest = shop.ready_nest(late, only={late.pk: 2}, fill={soon.pk: 2})
    sheet = sheet_now(nest)
    save(nest, with_pieces(sheet, sheet.pieces[:3]), shop)
    assert counts_of(nest) == ((2, 3, 1), {late.pk: (2, 0), soon.pk: (1, 1)})
    sheet = sheet_now(nest)
    save(nest, with_pieces(sheet, sheet.pieces[:1]), shop)
    assert counts_of(nest) == ((2, 1, 0), {late.pk: (1, 0), soon.pk: (0, 0)})
    assert [(row["part"], row["count"]) for row in nest.unplaced] == [(part.name, 1)]
    assert_all_agrees()


def test_where_orders_are_kept_together_a_piece_stays_with_its_order(shop):
    shop.sheets(on_hand=5)
    part = sheet_part()
    first, second = shop.line(1, part), shop.line(2, part)
    nest = shop.ready_nest(first, together=True)
    sheet = sheet_now(nest)
    of_second = piece_key(second, by_order=True)
    save(nest, with_pieces(sheet, [piece for piece in sheet.pieces if piece.part != of_second]), shop)
    assert counts_of(nest)[1] == {first.pk: (1, 0), second.pk: (0, 0)}
    board = board_of(nest, 1)
    assert board["waiting"] == {of_second: 2}
    assert board["parts"][of_second]["name"] == f"{part.name}, order {second.order.number}"
    sheet = sheet_now(nest)
    save(nest, with_pieces(sheet, [*sheet.pieces, Placement(of_second, 500.0, 300.0)]), shop)
    nest.refresh_from_db()
    assert {d.kit for d in nest.noun.job.demands if d.count} == {first.order.number, second.order.number}
    assert_all_agrees()


def test_a_moved_piece_lies_elsewhere_in_result_picture_and_cut_file(shop, nest):
    sheet = sheet_now(nest)
    before = nest.layouts.get()
    event = save(nest, with_pieces(sheet, [*sheet.pieces[:2], moved(sheet.pieces[2], dx=400, dy=300)]), shop)
    nest.refresh_from_db()
    after = nest.layouts.get()
    assert (event.verb, event.actor, event.why) == ("change-by-hand", shop.people.office, "sheet 1: 1 moved")
    assert (nest.state, nest.version, after.pk) == ("ready", 1, before.pk)
    assert route.check_nest(nest.noun) == ()
    assert after.picture != before.picture
    # Source: by hand, rows begin at the margin of 10 and go on by 100 + 5; the third plate ends at 10 + 310 + 400.
    drawing = ezdxf.read(io.StringIO(bytes(after.cut_file).decode()))
    reach = max(x for line in drawing.modelspace().query("LWPOLYLINE") for x, *_ in line.get_points() if x < 900)
    assert reach == pytest.approx(720.0)
    assert_all_agrees()


def test_an_overlap_is_refused_in_words_and_nothing_is_saved(shop, nest):
    sheet = sheet_now(nest)
    before = (nest.result, nest.layouts.get().picture)
    with pytest.raises(NotToBeCut, match="overlap") as refused:
        save(nest, with_pieces(sheet, [*sheet.pieces[:2], moved(sheet.pieces[2], dx=-50)]), shop)
    assert refused.value.findings[0].at is not None
    nest.refresh_from_db()
    assert (nest.result, nest.layouts.get().picture, nest.version) == (*before, 0)
    assert not nest.events.filter(verb="change-by-hand").exists()
    assert_all_agrees()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"dx": -1.0}, "apart"),
        ({"dx": 400, "dy": -3.0}, "margin"),
        ({"dx": 400, "dy": 5000}, "leaves the sheet"),
        ({"dx": 400, "dy": 100, "turn": 30.0}, "turned by 30"),
        ({"dx": 400, "dy": 100, "mirrored": True}, "mirrored"),
    ],
)
def test_gap_margin_edge_turn_and_mirror_are_checked_again(shop, nest, change, words):
    sheet = sheet_now(nest)
    with pytest.raises(NotToBeCut, match=words):
        save(nest, with_pieces(sheet, [*sheet.pieces[:2], moved(sheet.pieces[2], **change)]), shop)


def test_many_faults_are_told_by_the_first_few(shop):
    shop.sheets()
    nest = shop.ready_nest(shop.line(quantity=20))
    sheet = sheet_now(nest)
    heap = [moved(piece, dx=1.0 - piece.x + 200, dy=200 - piece.y) for piece in sheet.pieces]
    with pytest.raises(NotToBeCut, match=r"And \d+ more"):
        save(nest, with_pieces(sheet, heap), shop)


def test_a_piece_that_is_taken_off_waits_again(shop, nest, line):
    sheet = sheet_now(nest)
    save(nest, with_pieces(sheet, sheet.pieces[:1]), shop)
    nest.refresh_from_db()
    line.refresh_from_db()
    assert (line.open_count, line.nested_count) == (2, 1)
    assert (nest.placed_count, nest.wanted_count) == (1, 3)
    assert nest.unplaced == [{"part": line.part.name, "count": 2, "reason": "taken off by hand"}]
    assert nest.demands.get().count == 1
    assert_all_agrees()


def test_the_latest_due_line_gives_its_pieces_up_first(shop):
    shop.sheets()
    first = shop.line(quantity=2)
    later = shop.line(
        quantity=2, part=first.part, order=ConfirmedOrderFactory(due_on=first.order.due_on.replace(year=2099))
    )
    nest = shop.ready_nest(first)
    sheet = sheet_now(nest)
    save(nest, with_pieces(sheet, sheet.pieces[:1]), shop)
    first.refresh_from_db()
    later.refresh_from_db()
    assert (first.nested_count, later.nested_count) == (1, 0)
    assert_all_agrees()


def test_what_was_taken_off_can_be_added_again(shop, nest, line):
    whole = sheet_now(nest)
    save(nest, with_pieces(whole, whole.pieces[:1]), shop)
    sheet = sheet_now(nest)
    assert board_of(nest, 1)["waiting"] == {piece_key(line): 2}
    save(nest, with_pieces(sheet, whole.pieces), shop)
    nest.refresh_from_db()
    line.refresh_from_db()
    assert (line.open_count, nest.placed_count, nest.wanted_count, nest.unplaced) == (0, 3, 3, [])
    assert_all_agrees()


def test_a_part_of_another_order_is_added_from_what_waits(shop, nest):
    other = shop.line(quantity=2)
    sheet = sheet_now(nest)
    added = Placement(piece_key(other), 600.0, 300.0)
    event = save(nest, with_pieces(sheet, [*sheet.pieces, added]), shop)
    other.refresh_from_db()
    nest.refresh_from_db()
    assert event.why == "sheet 1: 1 added"
    assert (other.open_count, other.nested_count, nest.placed_count) == (1, 1, 4)
    assert other.part.name in nest.layouts.get().picture
    release(nest, by=shop.people.office)
    assert Workpiece.objects.filter(line=other).count() == 1
    assert_all_agrees()


def test_a_part_of_the_same_name_changes_no_piece_into_another(shop):
    """An earlier line of that name takes the plain name when it comes to the nest; the pieces stay what they are."""
    shop.sheets()
    small = shop.line(quantity=1, part=part_row(SheetPart("bracket", Contour.rectangle(50, 50))), thickness_mm="2")
    order = small.order
    order.state = "draft"
    order.save(update_fields=["state"])
    large = shop.line(quantity=1, part=part_row(SheetPart("bracket", Contour.rectangle(200, 100))))
    nest = shop.ready_nest(large)
    order.state = "confirmed"
    order.save(update_fields=["state"])
    assert small.pk < large.pk
    sheet = sheet_now(nest)
    save(nest, with_pieces(sheet, [*sheet.pieces, Placement(piece_key(small), 500.0, 300.0)]), shop)
    nest.refresh_from_db()
    widths = {
        p.x: d.part.bounds.width
        for p in nest.noun.layouts[0].placements
        for d in nest.noun.job.demands
        if d.part.name == p.part
    }
    assert widths == {10.0: 200.0, 500.0: 50.0}
    lines = {w.number: w.line_id for load in release(nest, by=shop.people.office) for w in load.workpieces.all()}
    assert lines == {1: large.pk, 2: small.pk}
    assert_all_agrees()


def test_more_than_wait_cannot_be_added(shop, nest, line):
    sheet = sheet_now(nest)
    with pytest.raises(Refused, match=r"1 more of .* but 0 wait") as refused:
        save(nest, with_pieces(sheet, [*sheet.pieces, moved(sheet.pieces[0], dx=500, dy=300)]), shop)
    assert refused.value.code == "too-few-wait"
    assert_all_agrees()


def test_pieces_taken_by_another_nest_meanwhile_are_not_taken_twice(shop, nest, monkeypatch):
    other = shop.line(quantity=1)
    sheet = sheet_now(nest)
    check = route.check_nest

    def taken_meanwhile(answer):
        monkeypatch.setattr(route, "check_nest", check)
        shop.ready_nest(other)
        return check(answer)

    monkeypatch.setattr(route, "check_nest", taken_meanwhile)
    with pytest.raises(WrongState, match="taken by another nest"):
        save(nest, with_pieces(sheet, [*sheet.pieces, Placement(piece_key(other), 600.0, 300.0)]), shop)
    nest.refresh_from_db()
    assert (nest.version, nest.placed_count) == (0, 3)
    assert_all_agrees()


def test_whoever_saves_second_is_told_that_the_nest_was_changed(shop, nest):
    sheet = sheet_now(nest)
    one = with_pieces(sheet, [*sheet.pieces[:2], moved(sheet.pieces[2], dx=400)])
    two = with_pieces(sheet, [*sheet.pieces[:2], moved(sheet.pieces[2], dx=300)])
    save(nest, one, shop)
    with pytest.raises(WrongState, match="changed by somebody else"):
        save(nest, two, shop)
    assert nest.events.filter(verb="change-by-hand").count() == 1


def test_sent_twice_it_counts_once(shop, nest):
    sheet, key = sheet_now(nest), uuid.uuid4()
    change = with_pieces(sheet, sheet.pieces[:2])
    assert save(nest, change, shop, key=key) == save(nest, change, shop, key=key)
    nest.refresh_from_db()
    assert nest.version == 1
    assert_all_agrees()


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_of_many_who_save_at_once_one_wins(shop, nest, at_once):
    sheet = sheet_now(nest)

    def one(number):
        change = with_pieces(sheet, [*sheet.pieces[:2], moved(sheet.pieces[2], dx=100 + number)])
        try:
            save(type(nest).objects.get(pk=nest.pk), change, shop)
        except WrongState:
            return 0
        return 1

    assert sum(at_once(4, one)) == 1
    nest.refresh_from_db()
    assert nest.version == 1
    assert_all_agrees()


def test_a_wrong_role_is_refused(shop, nest):
    sheet = sheet_now(nest)
    for person in (shop.people.inspector, shop.people.nobody):
        with pytest.raises(NotYourRole):
            save_by_hand(nest, with_pieces(sheet, sheet.pieces[:2]), by=person)


def test_only_a_ready_nest_of_sheet_is_changed(shop, nest):
    sheet = sheet_now(nest)
    release(nest, by=shop.people.office)
    with pytest.raises(WrongState, match="only a ready nest"):
        save(nest, with_pieces(sheet, sheet.pieces[:2]), shop)
    shop.bars()
    tube = shop.ready_nest(shop.tube_line(2))
    with pytest.raises(Refused, match="Only sheets"):
        save(tube, SheetByHand(0, 1, ()), shop)
    assert_all_agrees()


def test_unchanged_pieces_are_no_change(shop, nest):
    with pytest.raises(BadInput, match="Nothing was changed"):
        save(nest, sheet_now(nest), shop)


@pytest.fixture
def repeated(shop):
    """A nest of 64 plates: two like sheets of 32 each."""
    shop.sheets(on_hand=5)
    nest = shop.ready_nest(shop.line(quantity=126))
    assert nest.layouts.get().copies == 2
    return nest


def test_all_copies_of_a_sheet_change_together(shop, repeated):
    sheet = sheet_now(repeated)
    event = save(repeated, with_pieces(sheet, sheet.pieces[:-1]), shop)
    repeated.refresh_from_db()
    layout = repeated.layouts.get()
    assert event.why == "sheet 1, all 2 copies: 1 taken off"
    assert (layout.copies, layout.piece_count, repeated.placed_count) == (2, 62, 124)
    assert_all_agrees()


def test_one_copy_is_split_off_and_changed_alone(shop, repeated):
    sheet = sheet_now(repeated, one_copy=True)
    event = save(repeated, with_pieces(sheet, sheet.pieces[:-1]), shop)
    repeated.refresh_from_db()
    rows = list(repeated.layouts.order_by("position").values_list("position", "copies", "piece_count"))
    assert event.why == "sheet 1, one of 2 copies: 1 taken off"
    assert rows == [(1, 1, 63), (2, 1, 62)]
    assert len(release(repeated, by=shop.people.office)) == 2
    assert_all_agrees()


def test_an_emptied_sheet_leaves_the_nest_and_its_stock_is_free(shop):
    sheets = shop.sheets(on_hand=5)
    line = shop.line(quantity=70)
    nest = shop.ready_nest(line)
    assert nest.layouts.count() == 2
    save(nest, with_pieces(sheet_now(nest, 1), ()), shop)
    sheets.refresh_from_db()
    line.refresh_from_db()
    left = nest.layouts.get()
    assert (left.position, left.piece_count, sheets.reserved, line.open_count) == (1, 7, 1, 63)
    nest.refresh_from_db()
    assert route.check_nest(nest.noun) == ()
    with pytest.raises(Refused, match="Throw it away instead"):
        save(nest, with_pieces(sheet_now(nest, 1), ()), shop)
    throw_away(nest, by=shop.people.office)
    assert_all_agrees()


def test_a_recalled_nest_is_changed_and_released_again(shop, nest):
    release(nest, by=shop.people.office)
    recall(nest, by=shop.people.office)
    sheet = sheet_now(nest)
    save(nest, with_pieces(sheet, sheet.pieces[:2]), shop)
    loads = release(nest, by=shop.people.office)
    assert [load.workpieces.count() for load in loads] == [2]
    assert_all_agrees()


def test_a_sheet_that_was_at_the_machine_keeps_its_history(shop):
    shop.sheets(on_hand=5)
    nest = shop.ready_nest(shop.line(quantity=70))
    release(nest, by=shop.people.office)
    recall(nest, by=shop.people.office)
    with pytest.raises(Refused, match="at the machine once"):
        save(nest, with_pieces(sheet_now(nest, 2), ()), shop)
    assert nest.layouts.count() == 2
    assert_all_agrees()


@pytest.mark.parametrize(
    "rows",
    [
        None,
        [1],
        [{"x_mm": 1, "y_mm": 1}],
        [{"piece": "1", "x_mm": "1", "y_mm": 1}],
        [{"piece": "1", "x_mm": float("nan"), "y_mm": 1}],
        [{"piece": "1", "x_mm": 1e9, "y_mm": 1}],
        [{"piece": "1", "x_mm": True, "y_mm": 1}],
        [{"piece": "1", "x_mm": 1, "y_mm": 1, "mirrored": "yes"}],
        [{"piece": "1", "x_mm": 1, "y_mm": 1}] * 5001,
    ],
)
def test_what_is_no_list_of_pieces_is_refused(rows):
    with pytest.raises(BadInput):
        pieces_from_record(rows)


def test_a_part_that_is_not_known_and_a_sheet_that_is_not_there_are_refused(shop, nest):
    with pytest.raises(BadInput, match="neither in this nest nor waits"):
        save(nest, SheetByHand(0, 1, (Placement("999999", 10.0, 10.0),)), shop)
    with pytest.raises(BadInput, match="has no sheet 7"):
        save(nest, SheetByHand(0, 7, (Placement("1", 10.0, 10.0),)), shop)
