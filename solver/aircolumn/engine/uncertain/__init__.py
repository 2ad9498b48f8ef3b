"""What is not known for sure about an engine: as its file states it, and what the file leaves out."""
