"""Why humps are where they are."""
