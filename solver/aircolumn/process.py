"""What kind of process this is: the program's own (startup.py), or that of somebody who imports us."""

#: Set by startup.py. Then the process may be treated as ours, and its main module be imported anew.
as_program = False
