"""The engine: its file, a first file to begin with, and one operating point computed."""
