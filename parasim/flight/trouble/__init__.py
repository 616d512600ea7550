"""From what was seen in the air to what to measure: each likely error, and how much of it would do it."""
