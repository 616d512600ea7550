"""Turning: steady turns under one brake, the first moments after a pull, and the band on both."""
