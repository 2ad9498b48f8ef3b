"""The engine on one page that follows the hand: the opened file, drawing, keys, curves, server."""
