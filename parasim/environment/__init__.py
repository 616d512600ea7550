"""The air a canopy flies in: standard atmosphere and wind over height."""
