"""What small differences in making do to the torque."""
