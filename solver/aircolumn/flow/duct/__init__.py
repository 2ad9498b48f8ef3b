"""Pipe flow: shapes and their division, the characteristics, conservation."""
