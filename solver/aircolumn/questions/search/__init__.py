"""The best values of the varied keys."""
