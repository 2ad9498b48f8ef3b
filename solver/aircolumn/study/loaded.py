"""Imported by the server that workers are forked from (cores.py): all that a point needs, loaded."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import aircolumn.study.tasks  # noqa: F401
from aircolumn.flow.march.advance import advance

advance.make()
