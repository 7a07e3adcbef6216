"""Answers with a whole page, or with one fragment of it where htmx asks for that."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def page_or_fragment(
    request: HttpRequest, template: str, context: dict[str, Any], fragment: str = "", status: int = 200
) -> HttpResponse:
    """The page `template`, or its partial `fragment` (`{% partialdef %}`) for a request by htmx."""
    wants_part = bool(fragment) and bool(getattr(request, "htmx", False)) and not request.htmx.boosted  # type: ignore[attr-defined]
    return render(request, f"{template}#{fragment}" if wants_part else template, context, status=status)
