"""Turns a refusal raised by a verb into a page or a notice, in one place for all pages. The API has its own answers."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils.http import url_has_allowed_host_and_scheme

from shopfloor.base.errors import BadInput, NotYourRole, Refused

STATUS = {BadInput: 400, NotYourRole: 403}


def status_of(refusal: Refused) -> int:
    """400 for a bad value, 403 for a missing role, else 409."""
    return next((code for kind, code in STATUS.items() if isinstance(refusal, kind)), 409)


class RefusalMiddleware:
    """Answers `Refused`: a notice in place for htmx, back to the form with a message for a plain POST, else a page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, Refused):
            return None
        status = status_of(exception)
        context = {"refusal": exception}
        if getattr(request, "htmx", False):
            answer = render(request, "base/_notice.html", context, status=status)
            answer["HX-Retarget"], answer["HX-Reswap"] = "#notice", "innerHTML"
            return answer
        back = request.headers.get("Referer", "")
        if request.method == "POST" and url_has_allowed_host_and_scheme(back, {request.get_host()}):
            messages.error(request, str(exception))
            return HttpResponseRedirect(back)
        return render(request, "base/refused.html", context, status=status)
