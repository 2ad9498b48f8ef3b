"""How sure a comparison is: text, files, pictures."""
