"""Pictures: the car from above, and the way from a cause to what was seen."""
