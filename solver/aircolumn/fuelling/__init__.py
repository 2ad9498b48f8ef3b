"""The table that a control unit needs: filling over engine speed and load."""
