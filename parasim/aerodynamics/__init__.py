"""Forces of the air: section polars, vortex lattice, drag build-up, coefficient tables."""
