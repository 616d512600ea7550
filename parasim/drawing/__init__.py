"""Drawings in true millimetres, and the files they are written to."""
