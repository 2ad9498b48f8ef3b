"""What kind of process this is: the program's own (startup.py), or that of somebody who imports us."""

#: Set by startup.py. Then the process may be treated as ours, and its main module be imported anew.
as_program = False

#: Set by startup.py when Ctrl-C or SIGTERM came.
asked_to_end = False


def end_if_asked() -> None:
    """Raise KeyboardInterrupt if Ctrl-C or SIGTERM came before: when it comes in a callback, or in compiled
    code of a module that is being loaded, Python prints or wraps the exception and goes on."""
    if asked_to_end:
        raise KeyboardInterrupt
