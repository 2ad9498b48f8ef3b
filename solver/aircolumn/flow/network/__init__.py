"""A network of ducts, ends and volumes: declared, laid out in arrays, marched and looked at."""
