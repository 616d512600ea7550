"""Thousands of drops with spread inputs: flown, counted, explained."""
