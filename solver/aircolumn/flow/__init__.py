"""Gas flow in pipes, their ends and cylinders. Knows no engine file."""
