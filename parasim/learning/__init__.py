"""Learning from flights: calibration numbers fitted to what was measured, and what to measure next."""
