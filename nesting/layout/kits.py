"""Which parts of a job belong together, and in which order kits are laid: those due first, then the largest."""

import math
from dataclasses import dataclass

from nesting.layout.bulk import bulk_of
from nesting.layout.score import due_ranks
from nesting.model.nest import SheetJob
from nesting.units import Mm2


@dataclass(frozen=True)
class Kit:
    """`counts` by part name; a kit of the name "" is what belongs to none. `bulk` is what all of it takes up."""

    name: str
    counts: dict[str, int]
    bulk: Mm2
    rank: int


def kits_of(job: SheetJob) -> list[Kit]:
    """The kits in the order in which to lay them; what belongs to none comes last."""
    ranks = due_ranks(job)
    members: dict[str, list[str]] = {}
    for demand in job.demands:
        members.setdefault(demand.kit, []).append(demand.part.name)
    demands = {demand.part.name: demand for demand in job.demands}
    kits = [
        Kit(
            name,
            {part: demands[part].count for part in parts},
            math.fsum(bulk_of(demands[part].part, job.rules.gap) * demands[part].count for part in parts),
            min(ranks.get(part, 0) for part in parts),
        )
        for name, parts in members.items()
    ]
    return sorted(kits, key=lambda kit: (not kit.name, kit.rank, -kit.bulk, kit.name))
