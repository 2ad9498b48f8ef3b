"""One cycle by crank angle."""
