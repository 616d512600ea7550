"""Questions of who makes the canopy: what takes both cloth and flight, one a module."""
