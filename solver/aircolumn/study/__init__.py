"""Many engines: plans, points on disk, sweeps, search, sensitivity, tolerance."""
