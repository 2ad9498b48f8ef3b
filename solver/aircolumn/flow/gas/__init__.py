"""Species, the three working gases, humid air."""
