"""Published cases the solver must reproduce: one file a case, each with ``checks()``.

``python -m validation`` prints the table; pytest runs the same checks.
"""
