"""Measured pulls."""
