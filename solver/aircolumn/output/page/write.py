"""Content and template to one file without requests (Jinja2 and Plotly, the extra ``report``)."""

from importlib.resources import files

from aircolumn.errors import RequestError

MISSING = "a report needs more libraries: pip install 'aircolumn[report]'"


def check_libraries():
    """Raise RequestError if what a report needs is not installed."""
    try:
        import jinja2  # noqa: F401
        import plotly  # noqa: F401
    except ImportError:
        raise RequestError(MISSING) from None


def page(content: dict) -> str:
    """The page as text; content: what template.html names."""
    from jinja2 import Environment
    from plotly.offline import get_plotlyjs

    here = files("aircolumn.output.page")
    template = Environment(autoescape=True).from_string((here / "template.html").read_text(encoding="utf-8"))
    script, style = ((here / name).read_text(encoding="utf-8") for name in ("script.js", "style.css"))
    return template.render(**content, script=script, style=style, plotly=get_plotlyjs())
