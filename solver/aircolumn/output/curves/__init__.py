"""Curves over engine speed."""
