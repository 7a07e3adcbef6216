"""Releasing a nest to its machine, taking it back, and the page of what is stuck and for whom."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_GET, require_POST

from shopfloor.base.fragments import page_or_fragment
from shopfloor.base.roles import role_needed
from shopfloor.floor.queries_nests import loads_of_nest
from shopfloor.floor.release import recall, release
from shopfloor.floor.stuck import all_stuck
from shopfloor.planning.models import Nest


@require_POST
def nest_release(request: HttpRequest, nest_id: int) -> HttpResponse:
    nest = get_object_or_404(Nest.objects.select_related("machine"), pk=nest_id)
    loads = release(nest, by=request.user, key=request.POST.get("key"))
    what = "load waits" if len(loads) == 1 else "loads wait"
    messages.success(request, f"{nest} is released: {len(loads)} {what} for {nest.machine}.")
    return redirect("planning:nest-show", nest_id)


@require_POST
def nest_recall(request: HttpRequest, nest_id: int) -> HttpResponse:
    nest = get_object_or_404(Nest, pk=nest_id)
    recall(nest, by=request.user, key=request.POST.get("key"))
    messages.success(request, f"{nest} is back from the machine.")
    return redirect("planning:nest-show", nest_id)


@require_GET
@role_needed("see")
def nest_loads(request: HttpRequest, nest_id: int) -> HttpResponse:
    """How far has each sheet or bar come, and was its centring checked?"""
    nest = get_object_or_404(Nest.objects.defer("result", "best_picture"), pk=nest_id)
    context = {"here": "nests", "nest": nest, "rows": loads_of_nest(nest)}
    return page_or_fragment(request, "floor/nest_loads.html", context, "loads")


@require_GET
@role_needed("see")
def stuck(request: HttpRequest) -> HttpResponse:
    """What waits for a person, and for whom?"""
    return page_or_fragment(request, "floor/stuck.html", {"here": "stuck", "rows": all_stuck()}, "rows")
