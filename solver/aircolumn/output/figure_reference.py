"""The figures of a point (configs/FIGURES.md) as text."""

from aircolumn.point_figures import FIGURES, curve_columns

HEADING = """# Figures of a point

What every command computes at a speed, by the names of CSV and NetCDF files, of JSON and of `--figures`.
NetCDF and JSON are SI; tables and CSV files show the units that are chosen and name them. *: in the table of
a curve without being asked for. Made by `aircolumn schema --figures`.

| name | SI unit | above a column | what it is |
|---|---|---|---|"""


def figures_text() -> str:
    """A table of all figures, Markdown."""
    shown = curve_columns()
    rows = []
    for name, f in FIGURES.items():
        mark, unit = " *" if name in shown else "", "-" if f.unit == "1" else f.unit
        rows.append(f"| `{name}`{mark} | {unit} | {f.heading} | {f.meaning} |")
    return "\n".join([HEADING, *rows])
