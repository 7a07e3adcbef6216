"""One part: what was understood of it, and its pictures from all sides."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_GET

from shopfloor.base.roles import role_needed
from shopfloor.parts.models import Part
from shopfloor.parts.pictures import cuts_in_words, drawn_by_name, shown


@require_GET
@role_needed("see")
def part_show(request: HttpRequest, part_id: int) -> HttpResponse:
    """What is this part, seen from every side?"""
    part = get_object_or_404(Part.objects.select_related("drawing", "section").defer("picture"), pk=part_id)
    context = {"here": "orders", "part": part, "shown": shown(part, request.GET), "cuts": cuts_in_words(part)}
    return render(request, "parts/part.html", context)


@cache_control(private=True, max_age=7 * 24 * 3600, immutable=True)
@require_GET
@role_needed("see")
def part_picture(request: HttpRequest, part_id: int, name: str) -> HttpResponse:
    """One picture by itself. A part never changes, so a tablet asks once and still has it when the network is gone."""
    part = get_object_or_404(Part.objects.select_related("drawing").defer("picture"), pk=part_id)
    draw = drawn_by_name(part).get(name)
    if draw is None:
        raise Http404
    return HttpResponse(draw(), content_type="image/svg+xml; charset=utf-8")
