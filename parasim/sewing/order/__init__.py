"""The build order: steps from cut cloth to a rigged canopy."""
