"""A progress bar, and what can be loaded while the march runs."""

from importlib import import_module
from threading import Thread

from tqdm import tqdm


class Progress:
    """A progress bar on the terminal (none when the output is not one)."""

    def __init__(self, total: int | None):
        self.bar = tqdm(total=total, unit="point", disable=None, leave=False)

    def __enter__(self):
        # The march lets go of the interpreter: load what the report needs meanwhile.
        Thread(target=_load_report, daemon=True).start()
        return self

    def __call__(self, done: int, total: int | None):
        if self.bar.total is None and total and done:  # stored points say nothing about the rate
            self.bar.initial = self.bar.n = done
        self.bar.total = total or self.bar.total
        self.bar.update(done - self.bar.n)

    def __exit__(self, *_):
        self.bar.close()


def _load_report():
    for module in ("xarray", "aircolumn.report.plots"):
        import_module(module)
