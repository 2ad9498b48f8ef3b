"""What follows from an engine file before anything is marched."""
