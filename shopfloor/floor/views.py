"""The machine's pages on the tablet: which machine, what to do next, and the lists of loads that wait for hands.

One load is in `views_load`, its pieces in `views_pieces`; what the office and paper need is in `views_office`.
"""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from shopfloor.base.errors import BadInput
from shopfloor.base.fragments import page_or_fragment
from shopfloor.base.roles import may, role_needed
from shopfloor.floor import queries
from shopfloor.floor.models import WorkpieceState
from shopfloor.floor.pull import pull_next
from shopfloor.floor.tablet import HAND, MACHINE, hand_of, remember, remembered_machine, went_well
from shopfloor.stock.models import Machine


def tablet_context(request: HttpRequest, machine: Machine | None = None, **more: Any) -> dict[str, Any]:
    """What the frame of every tablet page shows: the machine, the side of the next button, what the person may do."""
    verbs = ("pull-load", "check-centring", "mark-cut", "mark-failed", "break-out", "inspect")
    allowed = {f"may_{verb.replace('-', '_')}": may(request.user, verb) for verb in verbs}
    return {"here": "floor", "machine": machine, "hand": hand_of(request), **allowed, **more}


@never_cache
@require_GET
@role_needed("see")
def machine_choose(request: HttpRequest) -> HttpResponse:
    """Which machine does this tablet stand at? Asked once; then the tablet goes to its machine by itself."""
    chosen = remembered_machine(request)
    if chosen and "choose" not in request.GET:
        return redirect("floor:machine-page", chosen.pk)
    return render(request, "floor/machines.html", tablet_context(request, chosen, machines=queries.machines()))


@require_POST
@role_needed("see")
def machine_use(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Remembers the machine on this tablet."""
    machine = get_object_or_404(Machine, pk=machine_id, in_use=True)
    return remember(redirect("floor:machine-page", machine.pk), MACHINE, machine.pk)


@require_POST
@role_needed("see")
def hand_set(request: HttpRequest) -> HttpResponse:
    """Puts the next button on the other side of this tablet."""
    hand = request.POST.get("hand")
    if hand not in ("left", "right"):
        raise BadInput("The next button may be on the left or on the right.", "hand")
    answer = redirect("floor:machine-choose")
    answer["Location"] += "?choose=1"
    return remember(answer, HAND, hand)


@never_cache
@require_GET
@role_needed("see")
def machine_page(request: HttpRequest, machine_id: int) -> HttpResponse:
    """What do I do next?"""
    machine = get_object_or_404(Machine, pk=machine_id)
    board = queries.machine_board(machine)
    if request.GET.get("seen") == board.version:
        # Drawn anew under a finger, a button would lose its touch.
        return HttpResponse(status=204)
    context = tablet_context(request, machine, board=board)
    return page_or_fragment(request, "floor/machine.html", context, "board")


@require_POST
@role_needed("pull-load")
def load_pull_next(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Takes the load that is next in turn."""
    machine = get_object_or_404(Machine, pk=machine_id)
    load = pull_next(machine, by=request.user, key=request.POST.get("key"))
    return went_well(request, "floor:load-page", load.pk)


@never_cache
@require_GET
@role_needed("see")
def break_out_list(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Which sheets and bars still hold pieces?"""
    machine = get_object_or_404(Machine, pk=machine_id)
    rows = queries.loads_with(machine, WorkpieceState.CUT)
    return render(request, "floor/break_out_list.html", tablet_context(request, machine, rows=rows))


@never_cache
@require_GET
@role_needed("see")
def inspect_list(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Whose pieces wait to be judged?"""
    machine = get_object_or_404(Machine, pk=machine_id)
    rows = queries.loads_with(machine, WorkpieceState.BROKEN_OUT)
    return render(request, "floor/inspect_list.html", tablet_context(request, machine, rows=rows))


@never_cache
@require_GET
@role_needed("see")
def ended_list(request: HttpRequest, machine_id: int) -> HttpResponse:
    """What was done here lately?"""
    machine = get_object_or_404(Machine, pk=machine_id)
    rows = queries.lately_ended(machine)
    return render(request, "floor/ended_list.html", tablet_context(request, machine, rows=rows))
