"""The arrays the march works on: what their rows are called, and how compiled code gets at them."""
