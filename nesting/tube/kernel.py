"""Loads the geometry kernel with all that reading a model needs, for the process that children are forked from.

Importing this module takes a second and 250 MB. No file is read
here: nothing of one file is there for the next.
"""

from OCP.Interface import Interface_Static
from OCP.STEPControl import STEPControl_Controller

from nesting.tube import measuring, step_reader, step_solids

__all__ = ["measuring", "step_reader", "step_solids"]

STEPControl_Controller.Init_s()
Interface_Static.SetCVal_s("xstep.cascade.unit", "MM")
