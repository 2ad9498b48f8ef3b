"""The engine file: YAML with positions, units, checked models, clear errors. Knows no physics."""
