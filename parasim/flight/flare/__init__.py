"""The flare: which pull of both brakes lands softest."""
