"""What to log for a comparison that proves something: a checklist and blank logs."""
