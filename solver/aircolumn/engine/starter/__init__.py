"""A first engine file from a few basic figures."""
