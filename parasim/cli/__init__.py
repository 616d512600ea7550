"""The command line: one module a command, same name as the flight or build-sheet module it asks."""
