"""The control unit's table on the screen, in files and in a picture."""
