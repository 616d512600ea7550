"""From a packed canopy to the steady glide: loads, strength, height."""
