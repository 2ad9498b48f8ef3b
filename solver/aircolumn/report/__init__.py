"""Tables, files and pictures. Computes nothing."""
