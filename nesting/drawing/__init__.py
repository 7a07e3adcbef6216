"""A part drawing (DXF) to parts: lines and arcs are gathered, cleaned, joined to rings, and sorted into parts."""
