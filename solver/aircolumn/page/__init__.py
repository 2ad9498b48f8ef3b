"""The report as one HTML page that needs nothing but itself: content, template, script."""
