"""Kinds of study: each folder here is one."""
