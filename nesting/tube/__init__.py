"""Tube files to parts: reads solids, finds straight hollow sections in them, and generates such files."""
