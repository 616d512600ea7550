"""Where to let go for a target, and how far it can land from there."""
