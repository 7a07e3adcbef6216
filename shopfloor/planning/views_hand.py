"""Work by hand on one sheet of a ready nest, and two nests of one demand side by side."""

import json

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from shopfloor.base.errors import BadInput, Refused
from shopfloor.base.refusals import status_of
from shopfloor.base.roles import may, role_needed
from shopfloor.planning import nest_state, queries, rival
from shopfloor.planning.hand import NotToBeCut, pieces_from_record, save_by_hand, sheet_nest_to_change
from shopfloor.planning.hand_change import SheetByHand
from shopfloor.planning.hand_page import board_of
from shopfloor.planning.models import Nest, NestState
from shopfloor.planning.queries_compare import pair_to_compare


@require_GET
@role_needed("nest")
def hand_show(request: HttpRequest, nest_id: int, position: int) -> HttpResponse:
    """How would I rather have this sheet?"""
    get_object_or_404(Nest.objects.only("pk"), pk=nest_id)
    nest = sheet_nest_to_change(nest_id)
    board = board_of(nest, position)
    context = {
        "here": "nests",
        "nest": nest,
        "board": board,
        "position": position,
        "layouts": nest.layouts.only("position", "copies", "nest"),
    }
    return render(request, "planning/hand.html", context)


@require_POST
def hand_save(request: HttpRequest, nest_id: int, position: int) -> HttpResponse:
    """Answers JSON: where to go next, or why not, with the places of faults on the sheet."""
    nest = get_object_or_404(Nest.objects.defer(*queries.HEAVY), pk=nest_id)
    try:
        sheet, key = _sent(request, position)
        save_by_hand(nest, sheet, by=request.user, key=key)
    except Refused as refusal:
        findings = refusal.findings if isinstance(refusal, NotToBeCut) else ()
        faults = [{"message": f.message, "at": f.at} for f in findings]
        body = {"message": str(refusal), "code": refusal.code, "faults": faults}
        return JsonResponse(body, status=status_of(refusal))
    messages.success(request, f"{nest} is saved; picture and cut file are made anew.")
    return JsonResponse({"next": reverse("planning:nest-show", args=(nest.pk,))})


def _sent(request: HttpRequest, position: int) -> tuple[SheetByHand, object]:
    try:
        body = json.loads(request.body)
    except ValueError as fault:
        raise BadInput("What was sent is not JSON. Reload the page and try again.") from fault
    if not isinstance(body, dict) or not isinstance(body.get("version"), int):
        raise BadInput("What was sent does not say which version of the nest it changes. Reload the page.", "version")
    pieces = pieces_from_record(body.get("pieces"))
    return SheetByHand(body["version"], position, pieces, body.get("one_copy") is True), body.get("key")


@require_POST
def rival_ask(request: HttpRequest, nest_id: int) -> HttpResponse:
    """Asks for another nest of the same demand."""
    budget = request.POST.get("budget_s", "")
    if budget and not (budget.isascii() and budget.isdecimal()):
        raise BadInput("The time to think must be a whole number of seconds.", "budget_s")
    nest = get_object_or_404(Nest.objects.defer(*queries.HEAVY), pk=nest_id)
    other = rival.ask_for_rival(
        nest,
        by=request.user,
        key=request.POST.get("key"),
        budget_s=int(budget) if budget else None,
        held=_held(request) if "held" in request.POST else None,
    )
    return redirect("planning:nest-show", other.pk)


def _held(request: HttpRequest) -> rival.Held:
    """The pieces that stay, as the page for work by hand sends them: `held` is "1,4,5"."""
    said = [request.POST.get(name, "") for name in ("version", "position")]
    numbers = [each for each in request.POST["held"].split(",") if each]
    if not all(each.isascii() and each.isdecimal() and len(each) < 10 for each in (*said, *numbers)):
        raise BadInput("What was sent does not say which pieces stay. Reload the page.", "held")
    return rival.Held(int(said[0]), int(said[1]), frozenset(int(each) for each in numbers))


@require_GET
@role_needed("see")
def nest_compare(request: HttpRequest, nest_id: int) -> HttpResponse:
    """Which of the two is better to cut? `nest_id` is the rival's."""
    pair = pair_to_compare(nest_id)
    if pair is None:
        raise Http404
    if pair.rival.state != NestState.PROPOSED or pair.nest.state != NestState.READY:
        return redirect("planning:nest-show", nest_id)
    context = {"here": "nests", "pair": pair, "may_nest": may(request.user, "nest")}
    return render(request, "planning/compare.html", context)


@require_POST
def rival_choose(request: HttpRequest, nest_id: int) -> HttpResponse:
    """Keeps the rival and throws its nest away."""
    other = get_object_or_404(Nest.objects.defer(*queries.HEAVY), pk=nest_id)
    rival.choose(other, by=request.user, key=request.POST.get("key"))
    messages.success(request, f"{other} is kept; the other one is thrown away.")
    return redirect("planning:nest-show", nest_id)


@require_POST
def rival_drop(request: HttpRequest, nest_id: int) -> HttpResponse:
    """Keeps the nest and throws its rival away."""
    other = get_object_or_404(Nest.objects.defer(*queries.HEAVY), pk=nest_id)
    nest_state.drop(other, by=request.user, key=request.POST.get("key"))
    messages.success(request, f"{other} is thrown away.")
    return redirect("planning:nest-show", other.rival_of_id or other.pk)
