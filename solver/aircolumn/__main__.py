"""``python -m aircolumn``."""

from aircolumn.cli import run

if __name__ == "__main__":
    run()
