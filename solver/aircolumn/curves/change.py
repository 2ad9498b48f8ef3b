"""Two Datasets of curves beside each other, before and after a change, and which keys of the engine
file changed."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.interest import all_speeds, interest
from aircolumn.curves.summary import runner_mean
from aircolumn.curves.to_xarray import labelled_speeds
from aircolumn.engine.description.spread import PLUS_MINUS
from aircolumn.errors import RequestError

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.engine.description.computing import Speeds
    from aircolumn.engine.description.source import Source

FIGURES = ("ve", "torque", "power")
SIDES = ("before", "after")


def change(
    before: xr.Dataset, after: xr.Dataset, speeds: Speeds | None = None, runner: str | None = None
) -> xr.Dataset:
    """VE, torque and power before and after at the speeds that both were asked for.

    Parameters
    ----------
    before, after : xarray.Dataset
        Of ``compare`` or ``curve`` (dimensions runner and rpm, or rpm alone).
    speeds : Speeds, optional
        Of the engine file; its range that matters is that of the means (else all speeds).
    runner : str, optional
        Only this one. Without it, runners of the same name are set beside each other, and two that
        stand alone whatever they are called.

    Returns
    -------
    xarray.Dataset
        Dimensions side, runner and rpm (SI); mean_torque (side, runner), of all points each side
        has, over the range in its attribute ``range``.

    Raises
    ------
    RequestError
        If they have no runner or no speed in common.
    """
    import xarray as xr

    sides = [_with_runners(d) for d in (before, after)]
    names = [[str(n) for n in d.runner.values] for d in sides]
    pairs = _pairs(names[0], names[1], runner)
    asked = [d.rpm.values[d.asked.values == 1] if "asked" in d else d.rpm.values for d in sides]
    rpm = np.intersect1d(*asked)
    if not rpm.size:
        raise RequestError("the two have no engine speed in common; choose some with --rpm")
    labels = [a if a == b else f"{a}, {b}" for a, b in pairs]
    data = xr.Dataset(coords={"side": list(SIDES), "runner": labels, "rpm": rpm})
    labelled_speeds(data)
    for name in FIGURES:
        values = [
            d[name].sel(runner=list(own), rpm=rpm).transpose("runner", "rpm").values
            for d, own in zip(sides, zip(*pairs, strict=True), strict=True)
        ]
        data[name] = (("side", "runner", "rpm"), np.array(values), dict(sides[0][name].attrs))
    if rpm.size > 1:
        span = (speeds and interest(speeds, rpm)) or all_speeds(rpm)
        means = [
            [runner_mean(d, "torque", n, span) for n in own]
            for d, own in zip(sides, zip(*pairs, strict=True), strict=True)
        ]
        about: dict = {"units": "N m", "long_name": "mean torque over the range"}
        about |= {"range": [span.start, span.stop], "over": span.words}
        data["mean_torque"] = (("side", "runner"), means, about)
    data.attrs = {"title": after.attrs.get("title", "")}
    return data


def _with_runners(data: xr.Dataset) -> xr.Dataset:
    return data if "runner" in data.dims else data.expand_dims("runner")


def _pairs(before: Sequence[str], after: Sequence[str], runner: str | None) -> list[tuple[str, str]]:
    """Which runner stands beside which."""
    both = [n for n in before if n in after and runner in (None, n)]
    if both:
        return [(n, n) for n in both]
    if runner is None and len(before) == len(after) == 1:
        return [(before[0], after[0])]
    raise RequestError(
        f"no runner{f' {runner!r}' if runner else ''} is in both: before there are"
        f" {', '.join(before)}; after there are {', '.join(after)}"
    )


def changed_keys(before: Any, after: Any, path: str = "") -> list[tuple[str, str, str]]:
    """(key, value before, value after) of all that differs between the data of two engine files;
    "-" where a key is missing."""
    if isinstance(before, dict) and isinstance(after, dict):
        keys = [*before, *(k for k in after if k not in before)]
        return [
            change
            for key in keys
            for change in changed_keys(before.get(key, "-"), after.get(key, "-"), f"{path}.{key}".lstrip("."))
        ]
    return [] if before == after else [(path, _written(before), _written(after))]


def changed_input(before: Source, after: Source) -> list[tuple[str, str, str]]:
    """The same of all that two engine files say: keys, plus_minus, and every file that they name and both
    read (of these the first line that differs)."""
    found = changed_keys(before.data, after.data)
    for path in dict.fromkeys((*before.spreads, *after.spreads)):
        spreads = (str(one.spreads.get(path, "-")) for one in (before, after))
        a, b = spreads
        found += [(".".join(map(str, (*path, PLUS_MINUS))), a, b)] if a != b else []
    for name in (n for n in before.beside if n in after.beside):
        found += _changed_lines(name, before.beside[name].text, after.beside[name].text)
    return found


def _changed_lines(name: str, before: str, after: str) -> list[tuple[str, str, str]]:
    old, new = before.splitlines(), after.splitlines()
    differ = [(k, a, b) for k, (a, b) in enumerate(zip_longest(old, new, fillvalue="-"), 1) if a != b]
    if not differ:
        return []
    line, a, b = differ[0]
    more = f" and {len(differ) - 1} more" if len(differ) > 1 else ""
    return [(f"{name}, line {line}{more}", a.strip(), b.strip())]


def _written(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k}: {_written(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_written, value)) + "]"
    return str(value)
