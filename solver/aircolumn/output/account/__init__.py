"""The filling account."""
