"""One load at the machine: what to load, what to watch for, and the marks on the load as a whole."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.cache import cache_control, never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopfloor.base.downloads import as_download
from shopfloor.base.roles import role_needed
from shopfloor.floor import mark, pull, queries
from shopfloor.floor.bar_page import bar_context
from shopfloor.floor.centring import check_centring
from shopfloor.floor.forms import FAIL_REASONS, why_failed
from shopfloor.floor.models import Load, LoadState, WorkpieceState
from shopfloor.floor.queries_nests import history_of_load
from shopfloor.floor.tablet import went_well
from shopfloor.floor.undo import last_mark, undo
from shopfloor.floor.views import tablet_context
from shopfloor.planning.cut_files import cut_list_on_paper
from shopfloor.planning.models import Layout
from shopfloor.stock.models import CuttingRule, Kind
from shopfloor.stock.rules import rule_for


def load_or_404(load_id: int, *, with_picture: bool = False) -> Load:
    """The load with all that its heading and stock facts touch."""
    loads = queries.all_loads()
    if with_picture:
        loads = loads.defer(None).defer(*queries.FILES)
    load = loads.filter(pk=load_id).first()
    if load is None:
        raise Http404
    return load


def cautions_for(load: Load) -> list[str]:
    """What to watch for when this load is lifted and cut; heavy stock first, then the material's own."""
    return load.stock.handling_cautions + load.layout.nest.material.cautions


def cutting_rule(load: Load) -> CuttingRule:
    nest = load.layout.nest
    return rule_for(nest.material, nest.kind, nest.thickness_mm)


@never_cache
@require_GET
@role_needed("see")
def load_page(request: HttpRequest, load_id: int) -> HttpResponse:
    """What do I load, what do I watch for, what do I mark?"""
    load = load_or_404(load_id, with_picture=True)
    lines = queries.lines_on(load)
    context = tablet_context(
        request,
        load.machine,
        load=load,
        lines=lines,
        drawn=queries.numbers_by_state(lines),
        in_sheet=sum(len(line.in_sheet) for line in lines),
        to_inspect=sum(len(line.to_inspect) for line in lines),
        rework=sum(len(line.of(WorkpieceState.REWORK)) for line in lines),
        undoable=last_mark(load),
        cautions=cautions_for(load),
        rule=cutting_rule(load),
        history=history_of_load(load),
        **bar_context(load, request.GET),
    )
    template = (
        "floor/load_to_cut.html" if load.state in (LoadState.WAITING, LoadState.AT_MACHINE) else "floor/load.html"
    )
    return render(request, template, context)


@require_POST
@role_needed("pull-load")
def load_pull(request: HttpRequest, load_id: int) -> HttpResponse:
    """Takes this load out of turn."""
    load = load_or_404(load_id)
    pull.pull(load, by=request.user, key=request.POST.get("key"))
    return went_well(request, "floor:load-page", load.pk)


@require_POST
@role_needed("pull-load")
def load_put_back(request: HttpRequest, load_id: int) -> HttpResponse:
    load = load_or_404(load_id)
    pull.put_back(load, by=request.user, key=request.POST.get("key"))
    return went_well(request, "floor:machine-page", load.machine_id)


@require_POST
@role_needed("check-centring")
def load_check_centring(request: HttpRequest, load_id: int) -> HttpResponse:
    """The bar runs true; what was measured comes with it."""
    load = load_or_404(load_id)
    measured = {name: text for name, text in request.POST.items() if name.endswith("_mm")}
    check_centring(load, by=request.user, key=request.POST.get("key"), measured=measured)
    return went_well(request, "floor:load-page", load.pk)


@require_POST
@role_needed("mark-cut")
def load_mark_cut(request: HttpRequest, load_id: int) -> HttpResponse:
    load = load_or_404(load_id)
    keep = request.POST.get("keep_remnant", "yes") != "no"
    mark.mark_cut(load, by=request.user, key=request.POST.get("key"), keep_remnant=keep)
    return went_well(request, "floor:load-page", load.pk)


@never_cache
@require_http_methods(["GET", "POST"])
@role_needed("mark-failed")
def load_mark_failed(request: HttpRequest, load_id: int) -> HttpResponse:
    """Why did the cut fail, and can the sheet or bar still be used?"""
    load = load_or_404(load_id)
    if request.method == "POST":
        key, is_spoiled = request.POST.get("key"), request.POST.get("stock") != "usable"
        why = why_failed(request.POST)
        mark.mark_failed(load, by=request.user, why=why, key=key, stock_spoiled=is_spoiled)
        return went_well(request, "floor:load-page", load.pk)
    is_bar = load.layout.nest.kind == Kind.TUBE
    context = tablet_context(request, load.machine, load=load, reasons=FAIL_REASONS, is_bar=is_bar)
    return render(request, "floor/failed.html", context)


@require_POST
@role_needed("see")
def load_undo(request: HttpRequest, load_id: int) -> HttpResponse:
    """Takes the last mark back; the verb asks for the role that the mark itself took."""
    load = load_or_404(load_id)
    mark_id = request.POST.get("mark", "")
    # A tablet that was away may still send the form of before, which names no mark.
    undo(load, by=request.user, key=request.POST.get("key"), mark_id=int(mark_id) if mark_id.isdecimal() else None)
    return went_well(request, "floor:load-page", load.pk)


@cache_control(private=True, max_age=7 * 24 * 3600, immutable=True)
@require_GET
@role_needed("see")
def layout_picture(request: HttpRequest, layout_id: int) -> HttpResponse:
    """The picture by itself, for thumbnails. A layout never changes, so a tablet asks once."""
    layout = get_object_or_404(Layout.objects.only("picture"), pk=layout_id)
    return HttpResponse(layout.picture, content_type="image/svg+xml; charset=utf-8")


@require_GET
@role_needed("see")
def load_cut_file(request: HttpRequest, load_id: int) -> HttpResponse:
    """The file for the machine's control: of a bar that can be laid flat that drawing, else its cut list."""
    layout = get_object_or_404(Load.objects.select_related("layout"), pk=load_id).layout
    if layout.flat_file is not None:
        return as_download(bytes(layout.flat_file), layout.named("dxf"))
    return as_download(bytes(layout.cut_file), layout.cut_file_name)


@require_GET
@role_needed("see")
def load_cut_list(request: HttpRequest, load_id: int) -> HttpResponse:
    """The cut list of a bar on paper, with the order of each piece."""
    load = get_object_or_404(Load.objects.select_related("layout__nest"), pk=load_id)
    pieces = load.workpieces.select_related("line__order").only("number", "line__order")
    content = cut_list_on_paper(load.layout, {piece.number: piece.line.order.number for piece in pieces})
    if content is None:
        raise Http404
    return as_download(content, load.layout.named("pdf"))
