"""The pieces of one load: breaking out, inspecting, and judging rework again."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopfloor.base.roles import role_needed
from shopfloor.floor import inspection, mark, queries
from shopfloor.floor.bar_page import bar_context
from shopfloor.floor.forms import pieces_broken_out, verdicts_given
from shopfloor.floor.inspection import Verdict
from shopfloor.floor.models import ScrapReason, WorkpieceState
from shopfloor.floor.tablet import went_well
from shopfloor.floor.undo import last_mark
from shopfloor.floor.views import tablet_context
from shopfloor.floor.views_load import load_or_404
from shopfloor.stock.models import Machine


@never_cache
@require_http_methods(["GET", "POST"])
@role_needed("break-out")
def load_break_out(request: HttpRequest, load_id: int) -> HttpResponse:
    """Which pieces are out, and which are not there?"""
    is_post = request.method == "POST"
    load = load_or_404(load_id, with_picture=not is_post)
    if is_post:
        key = request.POST.get("key")
        if not queries.is_done(load, key):
            out, lost = pieces_broken_out(request.POST, queries.lines_on(load))
            mark.break_out(load, by=request.user, key=key, numbers=out, lost=lost)
        # Who counts piece by piece goes on counting; without pieces the page leads back to the load.
        return went_well(request, "floor:load-break-out" if "one" in request.POST else "floor:load-page", load.pk)
    all_lines = queries.lines_on(load)
    lines = [line for line in all_lines if line.of(WorkpieceState.CUT)]
    if not lines:
        return redirect("floor:load-page", load.pk)
    next_out = min(number for line in lines for number in line.in_sheet)
    context = tablet_context(
        request,
        load.machine,
        load=load,
        lines=lines,
        drawn=queries.numbers_by_state(all_lines),
        in_sheet=sum(len(line.in_sheet) for line in lines),
        next_out=next_out,
        undoable=last_mark(load),
        **bar_context(load, request.GET, next_out),
    )
    return render(request, "floor/break_out.html", context)


@never_cache
@require_http_methods(["GET", "POST"])
@role_needed("inspect")
def load_inspect(request: HttpRequest, load_id: int) -> HttpResponse:
    """Is each piece good?"""
    is_post = request.method == "POST"
    load = load_or_404(load_id, with_picture=not is_post)
    if is_post:
        key = request.POST.get("key")
        if not queries.is_done(load, key):
            verdicts = verdicts_given(request.POST, queries.lines_on(load))
            inspection.inspect(load, verdicts, by=request.user, key=key)
        return went_well(request, "floor:load-page", load.pk)
    all_lines = queries.lines_on(load)
    lines = [line for line in all_lines if line.to_inspect]
    if not lines:
        return redirect("floor:load-page", load.pk)
    context = tablet_context(
        request,
        load.machine,
        load=load,
        lines=lines,
        drawn=queries.numbers_by_state(all_lines),
        to_inspect=sum(len(line.to_inspect) for line in lines),
        reasons=ScrapReason.choices,
        **bar_context(load, request.GET, lines[0].to_inspect[0]),
    )
    return render(request, "floor/inspect.html", context)


@never_cache
@require_GET
@role_needed("see")
def rework_list(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Which pieces come back from rework, and are they good now?"""
    machine = get_object_or_404(Machine, pk=machine_id)
    judged = request.GET.get("judged", "")
    load = queries.all_loads().filter(pk=int(judged), machine=machine).first() if judged.isdecimal() else None
    context = tablet_context(
        request,
        machine,
        pieces=queries.rework_pieces(machine),
        load=load,
        undoable=last_mark(load) if load else None,
    )
    return render(request, "floor/rework_list.html", context)


@require_POST
@role_needed("inspect")
def rework_judge(request: HttpRequest, load_id: int, number: int) -> HttpResponse:
    """Good after rework, or scrap for the reason it was sent to rework."""
    load = load_or_404(load_id)
    key = request.POST.get("key")
    if not queries.is_done(load, key):
        piece = get_object_or_404(load.workpieces, number=number)
        said = request.POST.get("verdict", "")
        verdict = Verdict(said, piece.reason if said == WorkpieceState.SCRAP else "")
        inspection.inspect(load, {number: verdict}, by=request.user, key=key)
    answer = went_well(request, "floor:rework-list", load.machine_id)
    header = "HX-Redirect" if "HX-Redirect" in answer else "Location"
    answer[header] += f"?judged={load.pk}"
    return answer
