"""The assembled vehicle and how it moves."""
