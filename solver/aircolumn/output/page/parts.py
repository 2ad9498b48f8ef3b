"""Parts of the page that stand on their own: a heading, an answer with facts, charts, figures."""

from typing import Any


def told(made: dict[str, Any]) -> dict[str, Any]:
    """What a part says."""
    return {name: made[name] for name in ("answer", "facts", "text")}


def part(name: str, heading: str, made: dict[str, Any]) -> dict[str, Any]:
    """What a part is called and draws; its charts are named after it."""
    charts = [{**chart, "id": f"{name}-{chart['id']}"} for chart in made["charts"]]
    return {"id": name, "heading": heading, "charts": charts}
