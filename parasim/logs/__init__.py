"""Logged flights: files in, segments, wind and figures with their errors out."""
