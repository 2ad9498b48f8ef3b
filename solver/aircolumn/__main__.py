"""``python -m aircolumn``."""

from aircolumn.startup import run

if __name__ == "__main__":
    run()
