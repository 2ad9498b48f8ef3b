"""What a change did, as a CSV file."""

from aircolumn.curves.change import SIDES
from aircolumn.display_units import column_heading, unit
from aircolumn.output.change.text import KINDS
from aircolumn.output.data_files import write_rows


def write_change(data, path):
    """One row a runner and speed as CSV."""
    heads, columns = ["runner", "rpm"], []
    for name, kind in KINDS.items():
        for side in SIDES:
            heads.append(column_heading(f"{name} {side}", unit(kind)))
            columns.append(unit(kind).of(data[name].sel(side=side).values))
    write_rows(
        path,
        heads,
        (
            [str(runner), float(rpm), *(float(c[i, k]) for c in columns)]
            for i, runner in enumerate(data.runner.values)
            for k, rpm in enumerate(data.rpm.values)
        ),
    )
