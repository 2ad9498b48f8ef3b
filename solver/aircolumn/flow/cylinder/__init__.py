"""The cylinder: crank, valves, burning, heat, friction, and how it fills and empties."""
