"""Every case at every speed."""
