"""What every compiled kernel uses: the decorators, where compiled code is kept, bit patterns, and
look-up by crank angle. Imports nothing of this package."""
