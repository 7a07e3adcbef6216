"""Nests groups without being asked, when enough waits or a due date nears, if the shop's planning rule says so."""

import logging
from datetime import timedelta

from django.utils import timezone

from shopfloor.base.errors import Refused
from shopfloor.planning.demand import Group, free_stock, waiting_groups
from shopfloor.planning.models import Nest, NestState
from shopfloor.planning.request import ask_for_nest
from shopfloor.planning.rule import planning_rule, reason_to_nest

log = logging.getLogger(__name__)


def nest_what_is_due() -> list[Nest]:
    """Asks for a nest of each group that is due or would fill a sheet; the nests asked for.

    A group of which a nest waits or is being laid out is left alone, so that its pieces are not torn apart.
    """
    rule = planning_rule()
    if not rule.by_itself:
        return []
    asked = []
    for group in waiting_groups():
        if reason_to_nest(group, free_stock(group.key), rule) and not _is_under_way(group):
            try:
                asked.append(ask_for_nest(group.key, by=None))
            except Refused as refusal:
                log.info("Not nested by itself: %s: %s", group.title, refusal)
    return asked


def _is_under_way(group: Group) -> bool:
    key = group.key
    # A group that failed a short while ago would fail again each round: a person looks first.
    recent = timezone.now() - timedelta(minutes=30)
    nests = Nest.objects.filter(
        kind=key.kind, material_id=key.material_id, thickness_mm=key.thickness_mm, section_id=key.section_id
    )
    return (
        nests.filter(state__in=(NestState.QUEUED, NestState.LAYING)).exists()
        or nests.filter(state=NestState.FAILED, finished_at__gt=recent).exists()
    )
