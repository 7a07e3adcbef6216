"""Loads a STEP file with Open CASCADE: its solids where they stand, in millimetres, under their product names.

Runs in the sandbox only. A solid used several times in an assembly comes once for each use.
"""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeSolid, BRepBuilderAPI_Sewing
from OCP.collections import IndexedMap_TopoDS_Shape_TopTools_ShapeMapHasher as ShapeIndex
from OCP.collections import Sequence_TDF_Label
from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.Interface import Interface_Static
from OCP.Standard import Standard_Failure
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.STEPControl import STEPControl_Controller
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label
from OCP.TDocStd import TDocStd_Document
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS
from OCP.XCAFDoc import XCAFDoc_DocumentTool, XCAFDoc_ShapeTool

from nesting.errors import BadValue
from nesting.units import Mm

DEEPEST = 64
"""Assemblies within assemblies; a file that goes deeper most likely contains itself."""

SEWING_GAP: Mm = 1e-3
"""Edges of loose faces this close are one; programs write them within 1e-5 mm."""

_SAYS_NOTHING = re.compile(
    r"\s*(open cascade step translator.*|none|no_?name|unnamed.*|untitled.*|default|=>.*|"
    r"(solid|compound|shell|body|part|product|component|assembly|shape)[\s_.-]*\d*)?\s*",
    re.IGNORECASE,
)


@dataclass(frozen=True, eq=False)
class NamedSolid:
    """A solid of the kernel under a name that no other has.

    Uses of the same solid have the same `number`. `was_sewn` says that it came as loose faces, which were joined.
    """

    name: str
    shape: Any
    number: int
    was_sewn: bool


def load_solids(path: Path, fallback: str) -> list[NamedSolid]:
    """The solids of a file. Products without a telling name are called by `fallback`, numbered where there are several.

    Raises:
        BadValue: the kernel does not take it for a STEP file, or fails on it.
    """
    try:
        return _loaded(path, fallback)
    except (Standard_Failure, RuntimeError) as fault:
        raise BadValue(f"The geometry kernel failed on it ({type(fault).__name__}); it is damaged.") from fault


def _loaded(path: Path, fallback: str) -> list[NamedSolid]:
    STEPControl_Controller.Init_s()
    Interface_Static.SetCVal_s("xstep.cascade.unit", "MM")
    reader = STEPCAFControl_Reader()
    reader.SetNameMode(True)
    reader.SetColorMode(False)
    reader.SetLayerMode(False)
    reader.SetPropsMode(False)
    if reader.ReadFile(str(path)) != IFSelect_ReturnStatus.IFSelect_RetDone:
        raise BadValue("It is damaged: its lines cannot be read as STEP. Export it again.")
    document = TDocStd_Document(TCollection_ExtendedString("step"))
    if not reader.Transfer(document):
        return []
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    roots = Sequence_TDF_Label()
    tool.GetFreeShapes(roots)
    found = [named for root in _each(roots) for named in _walk(root, TopLoc_Location(), "", 0)]
    index, nowhere = ShapeIndex(), TopLoc_Location()
    return [
        NamedSolid(name, shape, index.Add(shape.Located(nowhere)), was_sewn)
        for name, (_, shape, was_sewn) in zip(_names(found, fallback), found, strict=True)
    ]


def _walk(label: Any, place: Any, name: str, depth: int) -> Iterator[tuple[str, Any, bool]]:
    """Name, solid where it stands, and whether it was sewn, for each solid under a label."""
    own_name = _name_of(label) or name
    if depth > DEEPEST:
        return
    if XCAFDoc_ShapeTool.IsAssembly_s(label):
        components = Sequence_TDF_Label()
        XCAFDoc_ShapeTool.GetComponents_s(label, components)
        for component in _each(components):
            product = TDF_Label()
            if XCAFDoc_ShapeTool.GetReferredShape_s(component, product):
                there = place.Multiplied(XCAFDoc_ShapeTool.GetLocation_s(component))
                yield from _walk(product, there, _name_of(component), depth + 1)
        return
    shape = XCAFDoc_ShapeTool.GetShape_s(label)
    solids = _parts(shape, TopAbs_ShapeEnum.TopAbs_SOLID)
    for solid in solids or _sewn(shape):
        yield own_name, solid.Moved(place), not solids


def _parts(shape: Any, kind: Any) -> list[Any]:
    explorer, found = TopExp_Explorer(shape, kind), []
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found


def _sewn(shape: Any) -> list[Any]:
    """The solids that loose faces make where they close without a gap: some programs write every face by itself."""
    if not _parts(shape, TopAbs_ShapeEnum.TopAbs_FACE):
        return []
    sewing = BRepBuilderAPI_Sewing(SEWING_GAP)
    sewing.Add(shape)
    sewing.Perform()
    if sewing.NbFreeEdges():
        return []
    shells = _parts(sewing.SewedShape(), TopAbs_ShapeEnum.TopAbs_SHELL)
    return [BRepBuilderAPI_MakeSolid(TopoDS.Shell(shell)).Solid() for shell in shells]


def _each(labels: Any) -> Iterator[Any]:
    for i in range(1, labels.Length() + 1):
        yield labels.Value(i)


def _name_of(label: Any) -> str:
    """The product name, or "" where it says nothing of the part."""
    name = TDataStd_Name()
    if not label.FindAttribute(TDataStd_Name.GetID_s(), name):
        return ""
    text = "".join(c if c.isprintable() else " " for c in name.Get().ToExtString()).strip()[:120]
    return "" if _SAYS_NOTHING.fullmatch(text) else text


def _names(found: list[tuple[str, Any, bool]], fallback: str) -> list[str]:
    """Names that differ: one that comes several times is numbered, first one included."""
    wanted = [name or fallback for name, *_ in found]
    total, used = Counter(wanted), Counter[str]()
    taken = {name for name, count in total.items() if count == 1}
    names = []
    for base in wanted:
        name = base
        while total[base] > 1 and (name == base or name in taken):
            used[base] += 1
            name = f"{base}-{used[base]}"
        taken.add(name)
        names.append(name)
    return names
