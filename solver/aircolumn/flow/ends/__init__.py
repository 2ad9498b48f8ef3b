"""What stands at the ends of ducts: volumes, valves, junctions, steps, the other cylinders."""
