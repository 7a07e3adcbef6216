"""Breaking out, inspecting and judging rework, by number as the tablet sends them and by count without scripts."""

import uuid

import pytest
from django.urls import reverse

from shopfloor.floor.inspection import Verdict, inspect
from shopfloor.floor.models import FloorEvent, LoadState, WorkpieceState
from shopfloor.floor.queries import lines_on

S = WorkpieceState


@pytest.fixture
def reworked(broken_out_load, people):
    """Piece 2 is in rework for dross, the rest is good."""
    verdicts = {number: Verdict(S.GOOD) for number in (1, 3, 4, 5, 6)} | {2: Verdict(S.REWORK, "dross")}
    inspect(broken_out_load, verdicts, by=people.inspector)
    return broken_out_load


def test_the_break_out_page_counts_each_orders_pieces(tablet, cut_load):
    page = tablet.get("floor:load-break-out", cut_load.pk)
    first, second = page.context["lines"]
    assert (first.in_sheet, second.in_sheet) == ([1, 2, 3, 4], [5, 6])
    assert "Plot 9 Allotments" in page.content.decode()
    assert "Confirm 6 out" in page.content.decode()


def test_all_is_broken_out_at_once(tablet, cut_load, states):
    answer = tablet.mark("floor:load-break-out", cut_load.pk, out="1 2 3 4 5 6", lost="")
    assert answer.status_code == 200
    assert set(states(cut_load).values()) == {S.BROKEN_OUT}
    cut_load.refresh_from_db()
    assert cut_load.state == LoadState.BROKEN_OUT


def test_a_part_is_broken_out_and_one_is_lost(tablet, cut_load, states):
    tablet.mark("floor:load-break-out", cut_load.pk, out="1 2", lost="5")
    assert states(cut_load) == {1: S.BROKEN_OUT, 2: S.BROKEN_OUT, 3: S.CUT, 4: S.CUT, 5: S.LOST, 6: S.CUT}
    line = lines_on(cut_load)[1].line
    # Ordered 2, 1 still in the sheet: the lost one is wanted again.
    assert (line.lost_count, line.open_count) == (1, 1)
    page = tablet.get("floor:load-break-out", cut_load.pk)
    assert [line.in_sheet for line in page.context["lines"]] == [[3, 4], [6]]


def test_pieces_are_counted_without_scripts(tablet, cut_load, states):
    first, second = (line.line.pk for line in lines_on(cut_load))
    fields = {f"out_{first}": "3", f"lost_{first}": "1", f"out_{second}": "0"}
    assert tablet.post("floor:load-break-out", cut_load.pk, **fields).status_code == 302
    assert states(cut_load) == {1: S.BROKEN_OUT, 2: S.BROKEN_OUT, 3: S.BROKEN_OUT, 4: S.LOST, 5: S.CUT, 6: S.CUT}


def test_more_than_are_left_cannot_be_counted(tablet, cut_load, states):
    first = lines_on(cut_load)[0].line.pk
    answer = tablet.mark("floor:load-break-out", cut_load.pk, **{f"out_{first}": "5"})
    assert answer.status_code == 400
    assert "only 4 are left" in answer.content.decode()
    assert set(states(cut_load).values()) == {S.CUT}


def test_counting_sent_twice_counts_once(tablet, cut_load, states):
    key, first = uuid.uuid4(), lines_on(cut_load)[0].line.pk
    for _ in range(2):
        assert tablet.post("floor:load-break-out", cut_load.pk, key=key, **{f"out_{first}": "3"}).status_code == 302
    assert list(states(cut_load).values()).count(S.BROKEN_OUT) == 3
    assert FloorEvent.objects.filter(verb="break-out").count() == 1


@pytest.mark.parametrize("out", ["", "x", "1 2 three", "99", "-1", "²", "123456789012"])
def test_what_is_no_piece_is_refused_in_words(tablet, cut_load, states, out):
    answer = tablet.mark("floor:load-break-out", cut_load.pk, out=out)
    assert answer.status_code in (400, 409)
    assert "Not done." in answer.content.decode()
    assert set(states(cut_load).values()) == {S.CUT}


def test_nothing_is_broken_out_of_a_sheet_that_is_not_cut(tablet, load_in_hand):
    assert tablet.mark("floor:load-break-out", load_in_hand.pk, out="1").status_code == 409
    assert tablet.get("floor:load-break-out", load_in_hand.pk).url == reverse("floor:load-page", args=[load_in_hand.pk])


def test_the_office_does_not_break_out(tablet_of, people, cut_load):
    assert tablet_of(people.office).mark("floor:load-break-out", cut_load.pk, out="1").status_code == 403


def test_an_inspector_breaks_out_too(inspectors_tablet, cut_load):
    assert inspectors_tablet.mark("floor:load-break-out", cut_load.pk, out="1").status_code == 200


def test_all_good_in_one_touch(inspectors_tablet, broken_out_load, states):
    page = inspectors_tablet.get("floor:load-inspect", broken_out_load.pk).content.decode()
    assert "All 6 good" in page
    assert inspectors_tablet.mark("floor:load-inspect", broken_out_load.pk, good="1 2 3 4 5 6").status_code == 200
    assert set(states(broken_out_load).values()) == {S.GOOD}


def test_scrap_and_rework_carry_their_reasons(inspectors_tablet, broken_out_load, states):
    bad = ["2:rework:dross", "5:scrapped:dimension"]
    inspectors_tablet.mark("floor:load-inspect", broken_out_load.pk, good="1 3 4 6", bad=bad)
    assert states(broken_out_load) == {1: S.GOOD, 2: S.REWORK, 3: S.GOOD, 4: S.GOOD, 5: S.SCRAP, 6: S.GOOD}
    assert broken_out_load.workpieces.get(number=5).reason == "dimension"
    assert lines_on(broken_out_load)[1].line.open_count == 1


def test_pieces_of_a_line_may_be_judged_later(inspectors_tablet, broken_out_load, states):
    second = lines_on(broken_out_load)[1].line.pk
    inspectors_tablet.post("floor:load-inspect", broken_out_load.pk, later=second)
    assert [states(broken_out_load)[n] for n in (1, 4, 5, 6)] == [S.GOOD, S.GOOD, S.BROKEN_OUT, S.BROKEN_OUT]


def test_verdicts_are_counted_without_scripts(inspectors_tablet, broken_out_load, states):
    first, second = (line.line.pk for line in lines_on(broken_out_load))
    fields = {f"scrap_{first}": "1", f"scrap_reason_{first}": "dross", f"rework_{second}": "1"}
    fields[f"rework_reason_{second}"] = "handling"
    assert inspectors_tablet.post("floor:load-inspect", broken_out_load.pk, **fields).status_code == 302
    assert list(states(broken_out_load).values()) == [S.SCRAP, S.GOOD, S.GOOD, S.GOOD, S.REWORK, S.GOOD]


@pytest.mark.parametrize(
    "fields",
    [
        {"good": ""},
        {"bad": "1:scrapped:"},
        {"bad": "1:scrapped:bad luck"},
        {"bad": "1:melted:dross"},
        {"bad": "x:scrapped:dross"},
        {"bad": "::"},
        {"good": "1 1e3"},
    ],
)
def test_a_verdict_that_says_too_little_is_refused(inspectors_tablet, broken_out_load, states, fields):
    assert inspectors_tablet.mark("floor:load-inspect", broken_out_load.pk, **fields).status_code == 400
    assert set(states(broken_out_load).values()) == {S.BROKEN_OUT}


def test_a_piece_judged_already_is_not_judged_again(inspectors_tablet, broken_out_load, people):
    inspect(broken_out_load, {1: Verdict(S.GOOD)}, by=people.inspector)
    answer = inspectors_tablet.mark("floor:load-inspect", broken_out_load.pk, good="1 2")
    assert answer.status_code == 409
    assert "Piece 1 is good already" in answer.content.decode()


def test_an_operator_does_not_inspect(tablet, broken_out_load):
    assert tablet.mark("floor:load-inspect", broken_out_load.pk, good="1").status_code == 403
    assert tablet.get("floor:load-inspect", broken_out_load.pk).status_code == 403


def test_inspecting_sent_twice_counts_once(inspectors_tablet, broken_out_load):
    key = uuid.uuid4()
    for _ in range(2):
        answer = inspectors_tablet.mark("floor:load-inspect", broken_out_load.pk, key=key, good="1 2 3 4 5 6")
        assert answer.status_code == 200
    assert FloorEvent.objects.filter(verb="inspect").count() == 1


def test_rework_waits_in_a_list_of_its_own(shop, inspectors_tablet, reworked):
    page = inspectors_tablet.get("floor:rework-list", shop.machine.pk).content.decode()
    assert "piece 2" in page
    assert "dross or burr" in page


@pytest.mark.parametrize(("verdict", "state", "reason"), [("good", S.GOOD, ""), ("scrapped", S.SCRAP, "dross")])
def test_rework_ends_good_or_as_scrap(shop, inspectors_tablet, reworked, verdict, state, reason):
    answer = inspectors_tablet.mark("floor:rework-judge", reworked.pk, 2, verdict=verdict)
    assert answer["HX-Redirect"] == reverse("floor:rework-list", args=[shop.machine.pk]) + f"?judged={reworked.pk}"
    piece = reworked.workpieces.get(number=2)
    assert (piece.state, piece.reason) == (state, reason)
    page = inspectors_tablet.client.get(answer["HX-Redirect"]).content.decode()
    assert "Nothing in rework" in page
    assert "Undo" in page


def test_a_rework_verdict_without_a_word_changes_nothing(inspectors_tablet, reworked):
    assert inspectors_tablet.mark("floor:rework-judge", reworked.pk, 2).status_code == 400
    assert reworked.workpieces.get(number=2).state == S.REWORK


def test_rework_judged_twice_by_one_request_counts_once(inspectors_tablet, reworked):
    key = uuid.uuid4()
    for _ in range(2):
        assert inspectors_tablet.mark("floor:rework-judge", reworked.pk, 2, key=key, verdict="good").status_code == 200
    assert FloorEvent.objects.filter(verb="inspect").count() == 2


def test_rework_is_not_judged_by_an_operator(tablet, reworked):
    assert tablet.mark("floor:rework-judge", reworked.pk, 2, verdict="good").status_code == 403


def test_a_good_piece_is_no_rework(inspectors_tablet, reworked):
    assert inspectors_tablet.mark("floor:rework-judge", reworked.pk, 1, verdict="scrapped").status_code in (400, 409)
    assert reworked.workpieces.get(number=1).state == S.GOOD
