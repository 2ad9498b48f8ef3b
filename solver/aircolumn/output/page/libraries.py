"""The libraries that a page needs (the extra ``report``)."""

from aircolumn.errors import RequestError

MISSING = "a report needs more libraries: pip install 'aircolumn[report]'"


def check_libraries() -> None:
    """Raise RequestError if what a report needs is not installed."""
    try:
        import jinja2  # noqa: F401
        import plotly  # noqa: F401
    except ImportError:
        raise RequestError(MISSING) from None
