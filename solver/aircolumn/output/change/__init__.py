"""Two results side by side."""
