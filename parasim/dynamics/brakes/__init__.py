"""From what the brakes are commanded to what the lines do."""
