"""A logger's file to pulls at full load: headings, readings, what torque is, what was left out."""
