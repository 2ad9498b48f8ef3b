"""Points that could not be computed."""

from aircolumn.curves.to_xarray import failed_points


def gaps_text(data) -> str:
    """The points that could not be computed, with the reason; "" if there are none."""
    failed = failed_points(data)
    if not failed:
        return ""
    lines = [f"  {name + ', ' if name else ''}{rpm:.0f} rpm: {why}" for name, rpm, why in failed]
    return "\n".join(["Not computed (-):", *lines])
