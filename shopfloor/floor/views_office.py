"""What the floor shows to the office and on paper: where an order's pieces are, what happened, job card and labels."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from shopfloor.base.fragments import page_or_fragment
from shopfloor.base.roles import role_needed
from shopfloor.floor import queries, queries_orders
from shopfloor.floor.bar_page import bar_context
from shopfloor.floor.views_load import cautions_for, cutting_rule, load_or_404
from shopfloor.orders.models import Order


@require_GET
@role_needed("see")
def order_pieces(request: HttpRequest, order_id: int) -> HttpResponse:
    """On which nest is each piece, and how far has it come?"""
    order = get_object_or_404(Order.objects.select_related("customer"), pk=order_id)
    context = {"here": "orders", "order": order, "rows": queries_orders.pieces_of_order(order)}
    return page_or_fragment(request, "floor/order_pieces.html", context, "pieces")


@require_GET
@role_needed("see")
def job_card(request: HttpRequest, load_id: int) -> HttpResponse:
    """The load on one sheet of paper."""
    load = load_or_404(load_id, with_picture=True)
    context = {
        "here": "floor",
        "load": load,
        "lines": queries.lines_on(load),
        "cautions": cautions_for(load),
        "rule": cutting_rule(load),
        **bar_context(load, request.GET),
    }
    return render(request, "floor/job_card.html", context)


@require_GET
@role_needed("see")
def labels(request: HttpRequest, load_id: int) -> HttpResponse:
    """A label for each order's pieces of one part that are out of the sheet or bar."""
    load = load_or_404(load_id)
    context = {"here": "floor", "load": load, "groups": queries.label_groups(load)}
    return render(request, "floor/labels.html", context)
