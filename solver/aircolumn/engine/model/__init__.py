"""The engine of a file as a network, marched to its periodic cycle: one operating point."""
