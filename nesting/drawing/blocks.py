"""Walks through a drawing and the blocks in it, and gathers every line that is to be cut or marked.

Notes what is left out on the way and why: annotations, layers that are not cut, hidden layers, paper space. A block
may stand in the drawing many times, turned, mirrored, stretched, and inside other blocks.
"""

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import NamedTuple

from ezdxf.document import Drawing
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.dxfgfx import DXFGraphic
from ezdxf.entities.insert import Insert
from ezdxf.math import Matrix44

from nesting.drawing.audit import endless_block
from nesting.drawing.dxf_file import MOST_ENTITIES, too_many
from nesting.drawing.flattening import Unusable, flat
from nesting.drawing.layers import LayerRules, LayerUse
from nesting.drawing.left_out import damaged_entity, unusable_entity
from nesting.drawing.refusals import StopReading
from nesting.drawing.spans import Span
from nesting.drawing.strokes import MAKERS, strokes_of
from nesting.model.findings import Finding
from nesting.units import Mm, Point

MOST_SPANS = 500_000
"""Lines and arcs after blocks and curves are resolved; beyond this no part can be meant."""

DEEPEST_BLOCK = 64
"""Blocks within blocks; real drawings stay below ten."""

EXTERNAL = 4 | 8
"""Flags of a block that stands for another file (DXF reference, BLOCK, group code 70)."""

BYBLOCK, BYLAYER = 0, 256
"""Colour indexes that point elsewhere (DXF reference, group code 62)."""

ENTITY_FAULTS = (ValueError, TypeError, LookupError, ArithmeticError, AttributeError)
"""What an entity with impossible values raises in the library."""


class Line(NamedTuple):
    """What one entity draws: spans that follow each other, closed or open, on its layer."""

    spans: list[Span]
    closed: bool
    layer: str


class _Look(NamedTuple):
    """What entities in a block take over from the block reference."""

    layer: str
    linetype: str
    colour: int


@dataclass
class Gathered:
    """All lines of a drawing, and counts of what was left out or changed."""

    cut: list[Line] = field(default_factory=list)
    mark: list[Line] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    not_lines: Counter[str] = field(default_factory=Counter)
    """Entities that are no lines, by DXF type."""
    by_rule: Counter[tuple[str, str]] = field(default_factory=Counter)
    """Lines left out by a rule, by what it looks at ("layer", "colour", "linetype") and the value found there."""
    hidden: Counter[str] = field(default_factory=Counter)
    """Entities on layers that are off or frozen, by layer; "" for entities that are invisible themselves."""
    missing_blocks: Counter[str] = field(default_factory=Counter)
    zero_length: int = 0
    fitted: int = 0
    lowest: Mm = math.inf
    highest: Mm = -math.inf


def gathered(drawing: Drawing, rules: LayerRules, mm: Mm, name: str) -> Gathered:
    """Everything in model space; coordinates are multiplied by `mm`.

    Raises:
        StopReading: the blocks unfold to more lines than are read, or hold themselves.
    """
    walk = _Walk(drawing, rules, mm, name)
    walk.through(drawing.modelspace(), None, None, ())
    return walk.found


class _Walk:
    def __init__(self, drawing: Drawing, rules: LayerRules, mm: Mm, name: str) -> None:
        self.drawing, self.rules, self.mm, self.name = drawing, rules, mm, name
        self.found = Gathered()
        self.visited = 0
        self.span_count = 0
        self.layers = {
            layer.dxf.name.casefold(): (layer.is_off() or layer.is_frozen(), layer.dxf.linetype, layer.get_color())
            for layer in drawing.layers
        }

    def through(
        self, entities: Iterable[DXFEntity], matrix: Matrix44 | None, outer: _Look | None, path: tuple[str, ...]
    ) -> None:
        for entity in entities:
            self.visited += 1
            if self.visited > MOST_ENTITIES:
                raise StopReading(too_many(self.name, MOST_ENTITIES, "entities once its blocks are unfolded"))
            if not isinstance(entity, DXFGraphic) or entity.dxftype() == "VIEWPORT":
                continue
            look = self._look(entity, outer)
            if self._is_hidden(entity, look.layer):
                continue
            if isinstance(entity, Insert):
                self._insert(entity, matrix, look, path)
            elif entity.dxftype() in MAKERS:
                self._line(entity, matrix, look)
            else:
                self.found.not_lines[entity.dxftype()] += 1

    def _look(self, entity: DXFGraphic, outer: _Look | None) -> _Look:
        """Layer, linetype and colour that count; in a block, layer 0 and "by block" mean those of the reference."""
        layer, linetype, colour = entity.dxf.layer, entity.dxf.linetype, entity.dxf.color
        if outer is not None:
            layer = outer.layer if layer == "0" else layer
            linetype = outer.linetype if linetype.casefold() == "byblock" else linetype
            colour = outer.colour if colour == BYBLOCK else colour
        if linetype.casefold() == "bylayer" or colour == BYLAYER:
            _, layer_linetype, layer_colour = self.layers.get(layer.casefold(), (False, "Continuous", 7))
            linetype = layer_linetype if linetype.casefold() == "bylayer" else linetype
            colour = layer_colour if colour == BYLAYER else colour
        return _Look(layer, linetype, colour)

    def _is_hidden(self, entity: DXFGraphic, layer: str) -> bool:
        if entity.dxf.invisible:
            self.found.hidden[""] += 1
            return True
        if self.layers.get(layer.casefold(), (False,))[0]:
            self.found.hidden[layer] += 1
            return True
        return False

    def _insert(self, insert: Insert, matrix: Matrix44 | None, look: _Look, path: tuple[str, ...]) -> None:
        block_name = insert.dxf.get("name", "")
        key = block_name.casefold()
        if key.startswith(("*d", "*x")):
            # Old drawings keep the picture of a dimension or a hatch in a block of their own.
            self.found.not_lines["DIMENSION" if key.startswith("*d") else "HATCH"] += 1
            return
        self.found.not_lines["ATTRIB"] += len(insert.attribs)
        if key in path or len(path) >= DEEPEST_BLOCK:
            raise StopReading(endless_block(block_name, self.name, self._place(insert, matrix)))
        block = self.drawing.blocks.get(block_name) if block_name else None
        if block is None or not block.block or block.block.dxf.flags & EXTERNAL:
            self.found.missing_blocks[block_name] += 1
            return
        if not insert.dxf.hasattr("insert"):
            # The library would place it at the origin, and fails where it stands in rows.
            self.found.findings.append(damaged_entity("INSERT", look.layer))
            return
        if insert.mcount > MOST_ENTITIES:
            raise StopReading(too_many(self.name, MOST_ENTITIES, "entities once its blocks are unfolded"))
        for single in insert.multi_insert() if insert.mcount > 1 else (insert,):
            inner = single.matrix44()
            self.through(block, inner if matrix is None else inner @ matrix, look, (*path, key))

    def _place(self, insert: Insert, matrix: Matrix44 | None) -> Point | None:
        if not insert.dxf.hasattr("insert"):
            return None
        at = insert.dxf.insert if matrix is None else matrix.transform(insert.dxf.insert)
        return at.x * self.mm, at.y * self.mm

    def _line(self, entity: DXFGraphic, matrix: Matrix44 | None, look: _Look) -> None:
        use, reason = self.rules.use_of(look.layer, look.linetype, look.colour)
        if use is LayerUse.IGNORE:
            values = {"layer": look.layer, "colour": str(look.colour), "linetype": look.linetype}
            self.found.by_rule[reason, values[reason]] += 1
            return
        try:
            drawn = strokes_of(entity)
            if drawn is None:
                self.found.not_lines["MESH"] += 1
                return
            line = flat(drawn, matrix, self.mm)
        except ENTITY_FAULTS:
            self.found.findings.append(damaged_entity(entity.dxftype(), look.layer))
            return
        if isinstance(line, Unusable):
            self.found.findings.append(unusable_entity(line.reason, line.at, entity.dxftype(), look.layer))
            return
        if not line.spans:
            self.found.zero_length += 1
            return
        self.span_count += len(line.spans)
        if self.span_count > MOST_SPANS:
            raise StopReading(too_many(self.name, MOST_SPANS, "lines and arcs"))
        self.found.fitted += line.fitted
        self.found.lowest = min(self.found.lowest, line.height)
        self.found.highest = max(self.found.highest, line.height)
        kept = self.found.mark if use is LayerUse.MARK else self.found.cut
        kept.append(Line(line.spans, line.closed, look.layer))
