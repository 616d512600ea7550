"""Shapes: the section, the arced canopy, its inlets and its lines."""
