"""Shapes without any trade knowledge: arcs, closed rings, and moving them about."""
