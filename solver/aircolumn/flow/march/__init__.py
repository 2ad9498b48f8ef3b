"""The compiled march of a whole network: blocks of arrays, one step, many steps."""
