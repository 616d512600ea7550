"""Results as documents for machines and as rows for people; one module for each command, of the same name."""
