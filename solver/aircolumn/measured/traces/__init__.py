"""Pressures measured against crank angle: read, cut into cycles, pegged, laid over the model's, fitted."""
