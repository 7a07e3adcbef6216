"""Which lines of a drawing are cut, marked or left out: by layer name, linetype and colour.

Drawings carry no rule for this, so plain words in the layer's name decide (common practice, no source). A shop with
its own habits passes its own `LayerRules`.
"""

import re
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise


class LayerUse(StrEnum):
    CUT = "cut"
    MARK = "mark"
    IGNORE = "ignore"


type Words = frozenset[str]


def _words(text: str) -> Words:
    return frozenset(text.split())


CUT_WORDS = _words("cut cuts cutting cutout cutouts")
MARK_WORDS = _words(
    "mark marks marking markings engrave engraved engraving engravings etch etched etching scribe scribed scribing "
    "score scored scoring"
)
IGNORED_WORDS = _words(
    "nocut text texts txt note notes annotation annotations label labels dim dims dimension dimensions border borders "
    "title titleblock construction constr auxiliary reference hidden hid center centre centerline centerlines "
    "centreline centrelines axis axes phantom defpoints viewport viewports vport vports hatch hatching bom "
    "bend bends bendline bendlines bending fold folds sheetedge"
)
"""Two words that follow each other count as one too, so "SHEET_EDGE" is left out but a layer "SHEET" is not."""

IGNORED_LINETYPE_WORDS = _words("hidden center centre phantom dashed dash dashdot divide border dot dots dotted iso")
"""Linetypes named by `iso` are the broken ones of ISO 128; an unbroken line is called Continuous everywhere."""


def words_of(name: str) -> list[str]:
    """The words of a layer name in lower case: "HoleText_2" gives hole, text, 2; letters of every language count."""
    words = []
    for run in re.findall(r"[^\W\d_]+|\d+", name):
        start = 0
        for i in range(1, len(run)):
            # A capital begins a word behind a small letter, and before one: "DXFText" is dxf, text.
            if run[i].isupper() and (run[i - 1].islower() or run[i + 1 : i + 2].islower()):
                words.append(run[start:i].lower())
                start = i
        words.append(run[start:].lower())
    return words


@dataclass(frozen=True)
class LayerRules:
    """What lines are for, the first rule that fits deciding: `layers` (whole names, in any case), `colours` (colour
    index 1 to 255), words in the layer's name, words in the linetype's name; everything else is cut.

    Among the words of a layer's name marking comes first, then cutting, then leaving out: "CUT-TEXT" is cut, and
    "no" before a cutting word leaves the layer out.
    """

    layers: tuple[tuple[str, LayerUse], ...] = ()
    colours: tuple[tuple[int, LayerUse], ...] = ()
    mark_words: Words = MARK_WORDS
    cut_words: Words = CUT_WORDS
    ignored_words: Words = IGNORED_WORDS
    ignored_linetype_words: Words = IGNORED_LINETYPE_WORDS

    def use_by_layer(self, layer: str) -> LayerUse | None:
        """What the layer's name says, or None where it says nothing."""
        for name, use in self.layers:
            if name.casefold() == layer.casefold():
                return use
        words = words_of(layer)
        found = {*words, *(first + second for first, second in pairwise(words))}
        if found & self.mark_words:
            return LayerUse.MARK
        if found & self.cut_words:
            return LayerUse.IGNORE if found & {"no", "not", "non"} else LayerUse.CUT
        return LayerUse.IGNORE if found & self.ignored_words else None

    def use_of(self, layer: str, linetype: str, colour: int) -> tuple[LayerUse, str]:
        """What a line with this layer, resolved linetype and resolved colour is for, and what says so: "layer",
        "colour", "linetype" or "" where nothing does.
        """
        if not any(name.casefold() == layer.casefold() for name, _ in self.layers):
            for number, use in self.colours:
                if number == colour:
                    return use, "colour"
        by_layer = self.use_by_layer(layer)
        if by_layer is not None:
            return by_layer, "layer"
        if set(words_of(linetype)) & self.ignored_linetype_words:
            return LayerUse.IGNORE, "linetype"
        return LayerUse.CUT, ""
