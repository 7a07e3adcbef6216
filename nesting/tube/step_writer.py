"""Writes straight hollow-section parts as STEP files with exact surfaces: a generator, not part of the route.

Fixtures and the demo's part files come from here; `tube_solids` says how a part is described. Open CASCADE is needed.
"""

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Literal

from OCP.Interface import Interface_Static
from OCP.Message import Message
from OCP.STEPCAFControl import STEPCAFControl_Writer
from OCP.STEPControl import STEPControl_Controller, STEPControl_StepModelType
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDocStd import TDocStd_Document
from OCP.TopLoc import TopLoc_Location
from OCP.XCAFDoc import XCAFDoc_DocumentTool

from nesting.errors import BadValue
from nesting.tube.tube_solids import Tube, tube_solid

type Unit = Literal["mm", "m", "inch"]
type Schema = Literal["AP203", "AP214", "AP242"]

_UNITS: dict[Unit, str] = {"mm": "MM", "m": "M", "inch": "INCH"}
_SCHEMAS: dict[Schema, str] = {"AP203": "AP203", "AP214": "AP214IS", "AP242": "AP242DIS"}


def write_tubes(
    path: Path, tubes: Sequence[Tube], unit: Unit = "mm", schema: Schema = "AP214", assembly: str | None = None
) -> None:
    """Writes the tubes into one file, as products of their own, or as components of an assembly of that name."""
    write_solids(path, [(tube.name, tube_solid(tube)) for tube in tubes], unit, schema, assembly)


def write_solids(
    path: Path,
    solids: Sequence[tuple[str, Any]],
    unit: Unit = "mm",
    schema: Schema = "AP214",
    assembly: str | None = None,
) -> None:
    """Writes solids made in millimetres under their names. Equal input makes an equal file: the time stamp is fixed.

    Raises:
        BadValue: the file could not be written.
    """
    Message.DefaultMessenger_s().ChangePrinters().Clear()  # it prints a page on every file
    STEPControl_Controller.Init_s()
    Interface_Static.SetCVal_s("write.step.unit", _UNITS[unit])
    Interface_Static.SetCVal_s("write.step.schema", _SCHEMAS[schema])
    document = TDocStd_Document(TCollection_ExtendedString("step"))
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    root = None
    if assembly is not None:
        root = shapes.NewShape()
        TDataStd_Name.Set_s(root, TCollection_ExtendedString(assembly, True))
    for name, solid in solids:
        label = shapes.AddShape(solid, False)
        TDataStd_Name.Set_s(label, TCollection_ExtendedString(name, True))
        if root is not None:
            shapes.AddComponent(root, label, TopLoc_Location())
    shapes.UpdateAssemblies()
    writer = STEPCAFControl_Writer()
    taken = writer.Transfer(document, STEPControl_StepModelType.STEPControl_AsIs)
    if not (taken and str(writer.Write(str(path))).endswith("RetDone")):
        raise BadValue(f"{path.name}: Open CASCADE could not write these solids.")
    text = path.read_text(encoding="latin-1")
    path.write_text(re.sub(r"(FILE_NAME\('[^']*',)'[^']*'", r"\1'2026-01-01T00:00:00'", text), encoding="latin-1")
