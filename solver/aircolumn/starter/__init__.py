"""A first engine file from what anyone knows of an engine."""
