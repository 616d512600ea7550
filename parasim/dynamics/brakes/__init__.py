"""From what the brakes are told to what the lines do."""
