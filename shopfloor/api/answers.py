"""Turns everything the API says no to into one form of answer: a status, and {code, message, field}.

`code` is a stable word for programs, `message` a sentence for people, `field` the value that is meant, or "". Refusals
of the verbs keep their own code and sentence; faults found before a verb is reached (a value of the wrong type, no such
thing, not signed in) are put into the same form.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import (
    PermissionDenied,
    RequestDataTooBig,
    SuspiciousOperation,
    TooManyFieldsSent,
    TooManyFilesSent,
)
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from rest_framework import exceptions, serializers

from shopfloor.base.errors import BadInput, Refused
from shopfloor.base.refusals import status_of

NOT_SIGNED_IN = "Sign in first: send a token (Authorization: Token …), or sign in with name and password."
NOTHING_HERE = "There is nothing at this address: it was taken out, or never was. Look it up in the list."
ONLY_JSON = "The body must be JSON (for files: multipart/form-data)."

CODES: dict[type[exceptions.APIException], tuple[str, str]] = {
    exceptions.ParseError: ("bad-body", "The body cannot be read: {detail}"),
    exceptions.NotAuthenticated: ("not-signed-in", NOT_SIGNED_IN),
    exceptions.AuthenticationFailed: ("not-signed-in", "{detail}"),
    exceptions.PermissionDenied: ("not-your-role", "{detail}"),
    exceptions.NotFound: ("not-found", "{detail}"),
    exceptions.MethodNotAllowed: ("not-offered", "{detail}"),
    exceptions.NotAcceptable: ("not-offered", "This cannot be given in the form that was asked for (Accept header)."),
    exceptions.UnsupportedMediaType: ("bad-body", ONLY_JSON),
}
"""What API users read for the faults that Django REST framework finds; the first that fits counts."""


class RefusalSerializer(serializers.Serializer):
    """Why a request was not carried out."""

    code = serializers.CharField(help_text="A stable word for programs, such as `wrong-state` or `bad-input`.")
    message = serializers.CharField(help_text="What was asked, why not, and what to do, for people.")
    field = serializers.CharField(help_text='The value that is meant, or "".')


class TooLarge(exceptions.APIException):
    status_code = 413
    default_code = "too-large"
    default_detail = "The body is too large. Send less at once."


def refusal_answer(fault: Exception, context: Mapping[str, Any]) -> JsonResponse | None:
    """The answer to an exception in a view of the API; None where it is a fault of ours, which stays one."""
    headers: dict[str, str] = {}
    if isinstance(fault, Refused):
        field = fault.field if isinstance(fault, BadInput) else ""
        return _answer(status_of(fault), fault.code, str(fault), field, headers)
    if isinstance(fault, TooManyFilesSent):
        most = settings.DATA_UPLOAD_MAX_NUMBER_FILES
        fault = TooLarge(f"These are too many files at once. Send at most {most}, and the others after them.")
    if isinstance(fault, (RequestDataTooBig, TooManyFieldsSent)):
        fault = TooLarge()
    if isinstance(fault, SuspiciousOperation):
        return _answer(400, "bad-request", f"The request was not taken: {fault}", "", headers)
    if isinstance(fault, Http404):
        fault = exceptions.NotFound(NOTHING_HERE)
    if isinstance(fault, PermissionDenied):
        fault = exceptions.PermissionDenied()
    if not isinstance(fault, exceptions.APIException):
        return None
    if scheme := getattr(fault, "auth_header", None):
        headers["WWW-Authenticate"] = scheme
    if isinstance(fault, exceptions.ValidationError):
        field, text = first_fault(fault.detail)
        return _answer(400, BadInput.code, f"{field}: {text}" if field else text, field, headers)
    code, sentence = next(
        (words for kind, words in CODES.items() if isinstance(fault, kind)), (fault.default_code, "{detail}")
    )
    return _answer(fault.status_code, code, sentence.replace("{detail}", str(fault.detail)), "", headers)


def first_fault(detail: Any, path: str = "") -> tuple[str, str]:
    """Field and sentence of the first fault in what serializers report; nested fields are joined by dots."""
    if isinstance(detail, Mapping):
        name, inner = next(iter(detail.items()))
        here = "" if name == "non_field_errors" else str(name)
        return first_fault(inner, ".".join(part for part in (path, here) if part))
    if isinstance(detail, Sequence) and not isinstance(detail, str):
        index, inner = next((i, each) for i, each in enumerate(detail) if each)
        return first_fault(inner, f"{path}.{index}".lstrip(".") if isinstance(inner, Mapping) else path)
    return path, str(detail)


@login_not_required
def nothing_here(request: HttpRequest, rest: str = "") -> HttpResponse:
    """The answer to an address of the API that does not exist."""
    return JsonResponse({"code": "not-found", "message": NOTHING_HERE, "field": ""}, status=404)


def _answer(status_code: int, code: str, message: str, field: str, headers: Mapping[str, str]) -> JsonResponse:
    # Not a Response of the framework: that would come in the form that was asked for, which may be a picture.
    body = {"code": code, "message": _printable(message), "field": _printable(field)}
    return JsonResponse(body, status=status_code, headers=headers)


def _printable(text: str) -> str:
    """The text as it can be sent: a value quoted from a request may hold half a character."""
    return text.encode("utf-8", "replace").decode()
