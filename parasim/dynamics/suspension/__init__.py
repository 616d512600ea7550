"""How the payload hangs, and how it swings."""
