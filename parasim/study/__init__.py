"""Figures over many designs: sweeps, searches, sizing, a first design."""
