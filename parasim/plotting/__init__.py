"""Pictures: one module for each flight module, of the same name."""
