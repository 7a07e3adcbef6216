"""How bodies are read: JSON of a bounded size and depth, so that one request cannot fill the server's memory."""

from collections.abc import Mapping
from typing import IO, Any

from django.conf import settings
from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser

from shopfloor.api.answers import TooLarge


class ShortJSONParser(JSONParser):
    """JSON up to `DATA_UPLOAD_MAX_MEMORY_SIZE`, as Django keeps to for forms."""

    def parse(
        self, stream: IO[bytes], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        declared = (parser_context or {})["request"].META.get("CONTENT_LENGTH") or "0"
        if not declared.isdecimal() or int(declared) > settings.DATA_UPLOAD_MAX_MEMORY_SIZE:
            raise TooLarge
        try:
            return super().parse(stream, media_type, parser_context)
        except RecursionError as fault:
            raise ParseError("it is nested too deeply.") from fault
