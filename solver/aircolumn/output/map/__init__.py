"""The tuning map."""
