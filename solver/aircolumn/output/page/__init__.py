"""What every HTML page shares: template, style, script, charts, common content."""
