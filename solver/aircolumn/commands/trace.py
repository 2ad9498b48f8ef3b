"""``trace``: one cycle by crank angle."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from aircolumn.commands import options
from aircolumn.commands.datasets import netcdf
from aircolumn.commands.options import option, switch
from aircolumn.commands.progress import Progress
from aircolumn.commands.results import Answer, Origin, write_text
from aircolumn.curves.tuning.trace import SERIES, trace
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.given import check_speeds
from aircolumn.engine.description.reader import Description
from aircolumn.errors import RequestError
from aircolumn.output.plain import LabelledTable
from aircolumn.output.trace.page import write_series
from aircolumn.output.traces.answer import TracesFound


@dataclass(frozen=True)
class Request(options.Writes, options.OneRunner):
    """What ``trace`` is asked."""

    rpm: float = option(type=float, required=True, metavar="N", help="speed of the cycle")
    measured: Path | None = option(
        type=Path,
        metavar="DATA",
        help="pressures by crank angle, or time with a mark once a turn: CSV, MAT, Parquet, HDF5, TDMS, MDF",
    )
    fit: Sequence[str] = option(
        nargs="+",
        default=[],
        metavar="CAUSE",
        help="with --measured: length, temperature, timing, damping, discharge, heat, leak, compression, tdc,"
        " peg, gain, burn",
    )
    hold: Sequence[str] = option(
        nargs="+", default=[], metavar="CHANNEL", help="channels kept out of the fit, to try it on"
    )
    anyway: bool = switch("write the fitted engine file even where the fit is in doubt")


def run(request: Request) -> Answer[LabelledTable | TracesFound]:
    """One cycle of one engine."""
    description, engine, name = request.chosen()
    (rpm,) = check_speeds(request.rpm)
    if request.measured is not None:
        return _measured(request, description, engine, name, float(rpm))
    if request.fit or request.hold:
        raise RequestError("--fit and --hold go with --measured DATA")
    with Progress(1):
        data = trace(engine, float(rpm))
    data.attrs["runner"] = name
    ve = f"VE {100 * data.attrs['ve']:.1f} % (trapped air, ambient reference)"
    stem = f"{request.stem('trace')}-{rpm:.10g}"

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.trace.pictures import plot_trace  # slow to load

        write_series(data, folder / f"{stem}.csv")
        netcdf(data, folder / f"{stem}.nc", origin)
        plot_trace(data, folder / stem)

    text, result = f"runner {name}: {ve} at {rpm:.0f} rpm", partial(LabelledTable.of, data, *SERIES)
    return Answer([text], write, description.source.files, result=result)


def _measured(
    request: Request, description: Description, engine: Engine, name: str, rpm: float
) -> Answer[TracesFound]:
    """Measured traces laid over the model's."""
    from aircolumn.measured.traces.session import measure_traces
    from aircolumn.output.traces.fitted import traces_fitted_file
    from aircolumn.output.traces.text import traces_text, write_traces

    assert request.measured is not None
    with Progress(None) as progress:
        session = measure_traces(engine, request.measured, rpm, request.fit, request.hold, progress)
    text = traces_text(session)
    stem = f"{request.stem('trace')}-{rpm:.10g}-measured"

    def write(folder: Path, origin: Origin) -> None:
        from aircolumn.output.traces.cylinder_picture import plot_indicated  # slow to load
        from aircolumn.output.traces.pictures import plot_traces

        write_text(folder / f"{stem}.txt", text)
        write_traces(session, folder / f"{stem}.csv")
        title = f"{engine.title or description.path.name}, runner {name}"
        plot_traces(session, title, folder / stem)
        if session.cylinder is not None and not session.angle_first:
            plot_indicated(session, title, folder / f"{stem}-cylinder")
        if session.fitted is not None and (request.anyway or not session.doubtful):
            fitted = folder / f"{request.file.stem}-fitted.yaml"
            fitted.write_text(traces_fitted_file(description, engine, session), encoding="utf-8")

    result = partial(TracesFound.of, session)
    return Answer([request.line(name), text], write, description.source.files, result=result)
