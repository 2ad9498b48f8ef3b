"""Measured traces beside the model's: text, files, pictures, plain data."""
