"""The page to try things on: a design as a drawing with handles, its limits and margins beside it."""
