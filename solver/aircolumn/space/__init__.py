"""A runner in space: its centre line, cross-sections along it, what it must keep clear of, and routes
that fit. Knows no engine file and no gas."""
