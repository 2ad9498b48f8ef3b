"""``prepare``: compile the solver ahead of time, for a cluster or an automatic test."""


def arguments(parser):
    """None."""


def run(args):
    """Compile, and say where the code is kept."""
    from aircolumn.flow.compiled.cache import kept_in
    from aircolumn.flow.march.advance import advance

    advance.make()
    print(f"the solver is compiled, kept in {kept_in()}")
