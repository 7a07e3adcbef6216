"""The order board, one order, and customers. Entering an order is in `views_entry`."""

from collections.abc import Callable

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopfloor.base.fragments import page_or_fragment
from shopfloor.base.roles import may, require, role_needed
from shopfloor.orders import order_state, queries
from shopfloor.orders.forms import CustomerForm
from shopfloor.orders.models import Customer, Order, OrderState
from shopfloor.stock.queries import first_steps


@require_GET
@role_needed("see")
def order_board(request: HttpRequest) -> HttpResponse:
    """Which orders are late or will be, and what holds each one up?"""
    view = request.GET.get("view", "in-work")
    if view not in queries.BOARD_VIEWS:
        view = "in-work"
    words = request.GET.get("q", "").strip()[:80]
    asked = request.GET.get("from", "")[:6]
    start = int(asked) if asked.isascii() and asked.isdecimal() else 0
    rows, has_more = queries.board(view, words, start)
    counts = queries.board_counts()
    context = {
        "here": "orders",
        "view": view,
        "views": [(key, title) for key, (title, _) in queries.BOARD_VIEWS.items()],
        "counts": counts,
        "words": words,
        "rows": rows,
        "start": start,
        "last": start + len(rows),
        "next_start": start + len(rows) if has_more else None,
        "first_steps": None if any(counts.values()) else first_steps(),
        "may_enter": may(request.user, "enter-order"),
    }
    return page_or_fragment(request, "orders/board.html", context, "rows")


@require_GET
@role_needed("see")
def order_show(request: HttpRequest, order_id: int) -> HttpResponse:
    """Which parts are done, and where is the rest?"""
    row = queries.order_with_lines(order_id)
    if row is None:
        raise Http404
    if row.order.state == OrderState.DRAFT and may(request.user, "enter-order"):
        return redirect("orders:order-enter", order_id)
    context = {"here": "orders", "row": row, "order": row.order, "may_change": may(request.user, "enter-order")}
    return page_or_fragment(request, "orders/order.html", context, "progress")


@require_GET
@role_needed("see")
def order_history(request: HttpRequest, order_id: int) -> HttpResponse:
    order = get_object_or_404(Order, pk=order_id)
    context = {"here": "orders", "order": order, "history": queries.history_of(order)}
    return page_or_fragment(request, "orders/history.html", context, "rows")


def _order_verb(verb: Callable[..., None], done: str) -> Callable[..., HttpResponse]:
    """A view that does one verb on an order and shows it again."""

    @require_POST
    def view(request: HttpRequest, order_id: int) -> HttpResponse:
        order = get_object_or_404(Order.objects.select_related("customer"), pk=order_id)
        extra = {"why": request.POST.get("why", "").strip()[:500]} if verb is order_state.cancel else {}
        verb(order, by=request.user, key=request.POST.get("key"), **extra)
        messages.success(request, f"{order} ({order.customer}): {done}")
        return redirect("orders:order-show", order_id)

    return view


order_confirm = _order_verb(order_state.confirm, "confirmed. Its parts now wait to be nested.")
order_hand_over = _order_verb(order_state.hand_over, "handed over.")
order_take_back = _order_verb(order_state.take_back, "handing over taken back.")
order_cancel = _order_verb(order_state.cancel, "cancelled.")


@require_http_methods(["GET", "POST"])
@role_needed("see")
def customer_list(request: HttpRequest) -> HttpResponse:
    """Whom do we work for?"""
    form = CustomerForm(request.POST or None)
    if request.method == "POST":
        require(request.user, "enter-order")
        if form.is_valid():
            form.save()
            return redirect("orders:customer-list")
    context = {"here": "orders", "customers": queries.customers(), "form": form}
    return render(request, "orders/customers.html", context)


@require_http_methods(["GET", "POST"])
@role_needed("enter-order")
def customer_edit(request: HttpRequest, customer_id: int) -> HttpResponse:
    customer = get_object_or_404(Customer, pk=customer_id)
    form = CustomerForm(request.POST or None, instance=customer)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{customer} saved.")
        return redirect("orders:customer-list")
    orders = queries.board_of_customer(customer)
    return render(
        request, "orders/customer.html", {"here": "orders", "customer": customer, "form": form, "rows": orders}
    )
