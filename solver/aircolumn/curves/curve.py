"""Curves over engine speed, for one engine or all its candidate runners."""

from aircolumn.curves.labelled import dataset
from aircolumn.curves.points import as_grid, point_grid, points
from aircolumn.curves.speeds import chosen_speeds
from aircolumn.curves.uncertainty import LEVELS, grid_convergence
from aircolumn.description.models import Engine
from aircolumn.description.reader import Description


def curve(engine: Engine | Description, rpm=None, progress=None, workers=None):
    """One engine over speed.

    Parameters
    ----------
    engine : Engine or Description
        Of a Description its ``intake.runner`` is used.
    rpm : sequence of float, optional
        Speeds, rev/min; left out, those of the file.
    progress : callable, optional
        Called as progress(points done, points in all).
    workers : int, optional
        Points marched at once; left out, all cores.

    Returns
    -------
    xarray.Dataset
        Dimension rpm; figures (engine/figures.py) in SI. Points that could not be computed are NaN,
        with the reason in ``failure``, which is there only if there are such points.

    Raises
    ------
    ComputationError
        If no point could be computed.
    RequestError
        For speeds no engine turns at.

    Examples
    --------
    >>> import aircolumn
    >>> data = curve(aircolumn.load("configs/classroom-single.yaml"), [3000, 4500])
    >>> data.ve.dims, data.torque.attrs["units"]
    (('rpm',), 'N m')
    """
    if isinstance(engine, Description):
        engine = engine.engine
    speeds = chosen_speeds(engine, rpm)
    grid = point_grid([engine], speeds, progress, workers)
    return dataset(grid, ["runner"], speeds, engine).squeeze("runner", drop=True)


def compare(description: Description, rpm=None, progress=None, workers=None, uncertainty=False):
    """All candidate runners over speed.

    Parameters
    ----------
    description : Description
        Of an engine file (load).
    rpm, progress, workers
        As for ``curve``.
    uncertainty : bool
        Also compute every point on two other meshes and add the numerical uncertainty of VE as
        ``ve_uncertainty`` (relative; see uncertainty.py).

    Returns
    -------
    xarray.Dataset
        Dimensions runner and rpm; otherwise as for ``curve``.

    Raises
    ------
    ComputationError, RequestError
        As for ``curve``.
    """
    engine = description.engine
    speeds = chosen_speeds(engine, rpm)
    names = list(description.runners)
    levels = LEVELS if uncertainty else (1.0,)
    jobs = [
        ((name, k, level), description.with_runner(name), float(n), level)
        for name in names
        for k, n in enumerate(speeds)
        for level in levels
    ]
    found, failures = points(jobs, progress, workers)

    def at(level):
        cells = [[(name, k, level) for k in range(len(speeds))] for name in names]
        return as_grid(cells, found, failures)

    data = dataset(at(1.0), names, speeds, engine)
    if uncertainty:
        coarse, middle, fine = (at(level).figure("ve") for level in LEVELS)
        stated = grid_convergence(coarse, middle, fine, engine.numerics.repeat_within)
        data["ve_uncertainty"] = (("runner", "rpm"), stated)
        data["ve_uncertainty"].attrs = {
            "units": "1",
            "long_name": "numerical uncertainty of VE, relative (grid convergence index)",
        }
    return data
