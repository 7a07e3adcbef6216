"""Two addresses for those who watch the server: is the process up, and does the work go on?

`/alive/` asks nothing but this process, so a container is not restarted because the database is away. `/ready/` looks
at the database, at the oldest work that waits, and at when a worker was last seen. Neither needs a sign-in, and
neither tells more than counts and ages.
"""

import logging

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from shopfloor.base.leases import waiting
from shopfloor.base.worker_seen import worker_seen_s

WORKER_MISSING_AFTER_S = 60.0
"""The sweep runs every two seconds at most, but may stand behind a long read."""

STUCK_AFTER_S = 60.0
"""Work that waits this long while no worker works on any of its kind is stuck; a message is sent again after five."""

log = logging.getLogger(__name__)


@login_not_required
@never_cache
@require_safe
def alive(request: HttpRequest) -> HttpResponse:
    """200 and one word, whenever this process can answer."""
    return HttpResponse("alive\n", content_type="text/plain")


@login_not_required
@never_cache
@require_safe
def ready(request: HttpRequest) -> JsonResponse:
    """200 where all is well, else 503 with a sentence for each fault.

    `waiting` holds, per noun, how many rows wait, how many are worked on, and the age of the oldest that waits.
    """
    seen = worker_seen_s()
    faults: list[str] = []
    told: dict[str, object] = {"database": True, "waiting": {}}
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        kinds = waiting()
    except DatabaseError as fault:
        # The sentence goes to whoever asks, without a sign-in; what the driver says of hosts and names stays here.
        log.warning("The database does not answer: %s", fault)
        told["database"] = False
        faults.append("The database does not answer.")
    else:
        told["waiting"] = {
            kind.noun: {"count": kind.count, "at_work": kind.at_work, "oldest_s": _rounded(kind.oldest_s)}
            for kind in kinds
        }
        faults += [
            f"The oldest {kind.noun} has waited {kind.oldest_s:.0f} s and no worker works on any."
            for kind in kinds
            if kind.oldest_s is not None and kind.oldest_s > STUCK_AFTER_S and not kind.at_work
        ]
    if seen is None or seen > WORKER_MISSING_AFTER_S:
        faults.append("No worker was ever seen." if seen is None else f"No worker was seen for {seen:.0f} s.")
    answer = {"ready": not faults, "faults": faults, **told, "worker_seen_s": _rounded(seen)}
    return JsonResponse(answer, status=503 if faults else 200)


def _rounded(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds, 1)
