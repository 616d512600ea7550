"""From the sewn canopy to its first drop: rungs of tests, checklists, the build sheet."""
