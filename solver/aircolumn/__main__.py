"""``python -m aircolumn``."""

import sys

from aircolumn.cli import main

sys.exit(main())
