"""Which varied key matters: Sobol indices."""
