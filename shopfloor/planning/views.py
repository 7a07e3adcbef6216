"""Waiting work, nests under way, one nest. Releasing and recalling are in `floor`, which knows what becomes of it."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopfloor.base.downloads import as_download
from shopfloor.base.errors import BadInput
from shopfloor.base.fragments import page_or_fragment
from shopfloor.base.roles import may, role_needed
from shopfloor.planning import nest_state, queries
from shopfloor.planning.cut_files import cut_list_on_paper
from shopfloor.planning.demand import key_from_slug
from shopfloor.planning.forms import PlanningRuleForm
from shopfloor.planning.models import Layout, Nest, NestState
from shopfloor.planning.queries_orders import orders_on_sheets
from shopfloor.planning.request import MOST_PER_NEST, ask_for_nest
from shopfloor.planning.rival import live_rival
from shopfloor.planning.rule import planning_rule
from shopfloor.stock.models import Machine

UNDER_WAY = (NestState.QUEUED, NestState.LAYING)


@require_GET
@role_needed("see")
def waiting_work(request: HttpRequest) -> HttpResponse:
    """What can be nested now, for which material, and what would it give?"""
    context = {
        "here": "waiting",
        "rows": queries.waiting(),
        "under_way": queries.under_way(),
        "ready": queries.ready(),
        "rule": planning_rule(),
        "may_nest": may(request.user, "nest"),
    }
    return render(request, "planning/waiting.html", context)


@require_POST
@role_needed("nest")
def nest_ask(request: HttpRequest) -> HttpResponse:
    """Asks for a nest of a group, or of the counts typed for its lines with what may fill room beside them."""
    try:
        key = key_from_slug(request.POST.get("group", ""))
    except (ValueError, ArithmeticError) as fault:
        raise BadInput("This group is not known. Reload the page.", "group") from fault
    machine = request.POST.get("machine", "")
    budget = request.POST.get("budget_s", "")
    if budget and not budget.isdecimal():
        raise BadInput("The time to think must be a whole number of seconds.", "budget_s")
    only = _counts(request)
    nest = ask_for_nest(
        key,
        by=request.user,
        key=request.POST.get("key"),
        machine=get_object_or_404(Machine, pk=machine) if machine.isdecimal() else None,
        budget_s=int(budget) if budget else None,
        only=only,
        fill=None if only is None else _may_fill(request),
        together=request.POST.get("together") == "1",
    )
    return redirect("planning:nest-show", nest.pk)


def _counts(request: HttpRequest) -> dict[int, int] | None:
    """Counts typed for single lines (`line-12` = 5); None where all of the group is meant."""
    if request.POST.get("all", "1") == "1":
        return None
    counts = {}
    for name, typed in request.POST.items():
        if name.startswith("line-") and name[5:].isdecimal() and typed.strip():
            if not typed.strip().isdecimal():
                raise BadInput(f"“{typed[:20]}” is not a count. Type a whole number, 0 to leave the part out.", name)
            counts[int(name[5:])] = int(typed)
    return counts


def _may_fill(request: HttpRequest) -> dict[int, int]:
    """Lines of which what is not nested now may fill room (`fill-12`)."""
    names = (name for name in request.POST if name.startswith("fill-") and name[5:].isdecimal())
    return {int(name[5:]): MOST_PER_NEST for name in names}


@require_http_methods(["GET", "POST"])
@role_needed("nest")
def rule_edit(request: HttpRequest) -> HttpResponse:
    form = PlanningRuleForm(request.POST or None, instance=planning_rule())
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Saved.")
        return redirect("planning:waiting-work")
    return render(request, "planning/rule.html", {"here": "waiting", "form": form})


@require_GET
@role_needed("see")
def nest_list(request: HttpRequest) -> HttpResponse:
    """Which nests are there, and which wait for somebody?"""
    context = {
        "here": "nests",
        "under_way": queries.under_way(),
        "ready": queries.ready(),
        "to_compare": queries.to_compare(),
        "failed": queries.failed(),
        "released": queries.released(),
        "ended": queries.ended(),
    }
    return render(request, "planning/nests.html", context)


@require_GET
@role_needed("see")
def nest_show(request: HttpRequest, nest_id: int) -> HttpResponse:
    """Is this good enough to cut?"""
    nest = queries.nest_with_layouts(nest_id)
    if nest is None:
        raise Http404
    context = _nest_context(request, nest)
    if nest.state not in UNDER_WAY:
        layouts = list(nest.layouts.all())
        chosen = request.GET.get("sheet", "1")
        position = int(chosen) if chosen.isdecimal() else 1
        layout = next((each for each in layouts if each.position == position), layouts[0] if layouts else None)
        context |= {
            "layouts": layouts,
            "layout": layout,
            "parts": queries.parts_of_layout(nest, layout.position) if layout else [],
            "orders": orders_on_sheets(nest),
        }
    return page_or_fragment(request, "planning/nest.html", context, "sheet")


@require_GET
@role_needed("see")
def nest_progress(request: HttpRequest, nest_id: int) -> HttpResponse:
    """The live part of a nest that is being laid out; once it is not any more, the browser loads the page anew."""
    nest = queries.nest_with_layouts(nest_id)
    if nest is None:
        raise Http404
    if nest.state not in UNDER_WAY:
        if request.htmx:
            return HttpResponse(headers={"HX-Refresh": "true"})
        return redirect("planning:nest-show", nest_id)
    return render(request, "planning/_progress.html", _nest_context(request, nest))


@require_POST
def nest_cancel(request: HttpRequest, nest_id: int) -> HttpResponse:
    nest = get_object_or_404(Nest, pk=nest_id)
    nest_state.cancel(nest, by=request.user, key=request.POST.get("key"))
    messages.success(request, f"{nest} is cancelled; its parts wait again.")
    return redirect("planning:waiting-work")


@require_POST
def nest_take_best(request: HttpRequest, nest_id: int) -> HttpResponse:
    nest_state.take_best(get_object_or_404(Nest, pk=nest_id), by=request.user)
    return redirect("planning:nest-show", nest_id)


@require_POST
def nest_throw_away(request: HttpRequest, nest_id: int) -> HttpResponse:
    nest = get_object_or_404(Nest, pk=nest_id)
    nest_state.throw_away(nest, by=request.user, key=request.POST.get("key"))
    messages.success(request, f"{nest} is thrown away; its parts wait again.")
    return redirect("planning:waiting-work")


@require_GET
@role_needed("see")
def cut_file(request: HttpRequest, nest_id: int, position: int) -> HttpResponse:
    """The cut file of one sheet (DXF) or the cut list of one bar (CSV), as a download."""
    layout = get_object_or_404(Layout, nest_id=nest_id, position=position)
    return as_download(bytes(layout.cut_file), layout.cut_file_name)


@require_GET
@role_needed("see")
def flat_file(request: HttpRequest, nest_id: int, position: int) -> HttpResponse:
    """One bar laid flat (DXF), as a download."""
    layout = get_object_or_404(Layout, nest_id=nest_id, position=position, flat_file__isnull=False)
    return as_download(bytes(layout.flat_file or b""), layout.named("dxf"))


@require_GET
@role_needed("see")
def cut_list(request: HttpRequest, nest_id: int, position: int) -> HttpResponse:
    """The cut list of one bar on paper (PDF), as a download."""
    layout = get_object_or_404(Layout.objects.select_related("nest"), nest_id=nest_id, position=position)
    content = cut_list_on_paper(layout)
    if content is None:
        raise Http404
    return as_download(content, layout.named("pdf"))


def _nest_context(request: HttpRequest, nest: Nest) -> dict[str, Any]:
    return {
        "here": "nests",
        "nest": nest,
        "way": queries.way_of(nest),
        "history": queries.history_of(nest),
        "may_nest": may(request.user, "nest"),
        "may_release": may(request.user, "release-nest"),
        "rival": live_rival(nest),
        "may_throw": may(request.user, "throw-nest-away"),
    }
