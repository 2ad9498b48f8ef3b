"""Files that unpack to far more than they are, and headers that lie, by seed.

Whatever comes of one must be a message (or a result, where it is harmless) within LONG seconds of CPU and
LARGE bytes. ``python -m tests.bombs 400`` reads so many, each by a command in a process of its own, and says
what took most.
"""

import os
import random
import struct
import subprocess
import sys
import tempfile
import time
import zipfile
import zlib
from functools import lru_cache
from pathlib import Path

import numpy as np
from tests.conftest import CLASSROOM
from tests.machine import allowed

LONG, LARGE = 5.0, 1e9  # s of CPU; bytes
ANGLE = "crank angle [deg]"


def parquet(path: Path, rng: random.Random) -> None:
    """Runs of one value, texts, many columns, pages under strong compression, a count that is not so."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    rows = rng.choice((10**5, 10**6, 5 * 10**6, 2 * 10**7))
    columns = {ANGLE: pa.array(np.zeros(rows, dtype=rng.choice((np.float64, np.int64, np.int8))))}
    kind = rng.choice(("runs", "texts", "many", "dictionary"))
    if kind == "texts":
        text = pa.array(["x" * rng.choice((10, 2000))])
        columns["p port [kPa]"] = text.take(pa.array(np.zeros(min(rows, 10**6), int)))
        columns[ANGLE] = columns[ANGLE].slice(0, min(rows, 10**6))
    elif kind == "many":
        columns |= {f"c{k}": columns[ANGLE] for k in range(rng.choice((20, 290)))}
    else:
        columns["p port [kPa]"] = columns[ANGLE]
    pq.write_table(pa.table(columns), path, compression=rng.choice(("zstd", "gzip", "snappy")))
    if rng.random() < 0.4:
        _flip(path, rng)


@lru_cache
def _zeros(size: int) -> bytes:
    return zlib.compress(bytes(size), 9)


def hdf5(path: Path, rng: random.Random) -> None:
    """Data sets of zeros under gzip, sizes without data, a chunk that unpacks to more than it says."""
    import h5py

    rows = rng.choice((10**5, 10**6, 5 * 10**6, 10**9, 10**12))
    with h5py.File(path, "w") as file:
        for name in (ANGLE, "p port [kPa]", *(f"c{k}" for k in range(rng.choice((0, 0, 40, 400))))):
            chunk = min(rows, rng.choice((10**4, 10**6, 10**7)))
            data = file.create_dataset(name, shape=(rows,), dtype="f8", chunks=(chunk,), compression="gzip")
            if rng.random() < 0.5:
                size = rng.choice((8 * chunk, 10**8, 10**9))  # bytes, whatever the header says
                data.id.write_direct_chunk((0,), _zeros(size))
    if rng.random() < 0.2:
        _flip(path, rng)


def tdms(path: Path, rng: random.Random) -> None:
    """Counts that are not so."""
    import nptdms

    values = np.zeros(rng.choice((100, 10**5)))
    with nptdms.TdmsWriter(path) as file:
        channels = [nptdms.ChannelObject("log", name, values) for name in (ANGLE, "p port")]
        file.write_segment(channels)
    raw = bytearray(path.read_bytes())
    at = raw.find(struct.pack("<Q", values.size))
    if at >= 0:
        raw[at : at + 8] = struct.pack("<Q", rng.choice((10**7, 10**9, 10**15)))
    path.write_bytes(raw)


def mf4(path: Path, rng: random.Random) -> None:
    """Many samples of nought, compressed; bits flipped."""
    from asammdf import MDF, Signal

    rows = rng.choice((10**4, 10**6, 6 * 10**6))
    time_, zeros = np.arange(rows) * 1e-5, np.zeros(rows, dtype=rng.choice((np.float64, np.int8)))
    with MDF() as file:
        file.append([Signal(zeros, time_, name="p port", unit="kPa")])
        file.save(path, overwrite=True, compression=2)
    if rng.random() < 0.5:
        _flip(path, rng)


def csv(path: Path, rng: random.Random) -> None:
    """Lines without end, cells without number, columns without end."""
    head = f"{ANGLE},p port [kPa]\n"
    kind = rng.choice(("line", "words", "columns", "quotes", "deep"))
    if kind == "line":
        text = head + "1," * rng.choice((10**5, 6 * 10**6)) + "1\n"
    elif kind == "words":
        text = head + "abc,def\n" * rng.choice((10**4, 10**6))
    elif kind == "columns":
        count = rng.choice((200, 2000))
        text = ",".join(f"c{k}" for k in range(count)) + "\n" + (",".join(["1"] * count) + "\n") * 3000
    elif kind == "quotes":
        text = head + '"' * rng.choice((9999, 10**6)) + "\n" + "1,2\n" * 1000
    else:
        text = head + "1,2\n" * 10**5 + "x,2\n" + "1,2\n" * 10**5
    path.write_text(text)


def model(vertices: int, triangles: int, more: str = "", text: str = "") -> bytes:
    """A 3MF model in XML."""
    begin = (
        '<?xml version="1.0"?><model unit="millimeter" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/'
        '2015/02"><resources><object id="1" type="model"><mesh><vertices>'
    )
    return (
        begin
        + '<vertex x="0" y="0" z="0" />' * vertices
        + "</vertices><triangles>"
        + '<triangle v1="0" v2="1" v3="2" />' * triangles
        + f'</triangles></mesh></object>{more}</resources>{text}<build><item objectid="1"/></build></model>'
    ).encode()


def threemf(path: Path, rng: random.Random) -> None:
    """Corners by the million, parts made of parts, blanks, entities, sizes that lie."""
    kind = rng.choice(("corners", "triangles", "parts", "blanks", "elements", "lies", "many"))
    raw = model(4, 4)
    if kind == "corners":
        raw = model(rng.choice((10**5, 5 * 10**6)), 4)
    elif kind == "triangles":
        raw = model(100, rng.choice((10**6, 6 * 10**6)))
    elif kind == "parts":
        parts = (
            f'<object id="{k}" type="model"><components>'
            + f'<component objectid="{k - 1}"/>' * rng.choice((2, 10))
            + "</components></object>"
            for k in range(2, rng.choice((9, 40)))
        )
        raw = model(4, 4, "".join(parts))
    elif kind == "blanks":
        raw = model(4, 4, text=" " * rng.choice((10**8, 8 * 10**8)))
    elif kind == "elements":
        raw = model(4, 4, text="<a/>" * rng.choice((10**6, 2 * 10**7)))
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as package:
        package.writestr("3D/3dmodel.model", raw)
        if kind == "many":
            for k in range(2000):
                package.writestr(f"3D/{k}.model", raw)
    if kind == "lies":
        data = bytearray(path.read_bytes())
        at = data.find(struct.pack("<I", len(raw)))
        data[at : at + 4] = struct.pack("<I", rng.choice((10, 2**31)))
        path.write_bytes(data)


def stl(path: Path, rng: random.Random) -> None:
    """Counts that lie, texts without triangles."""
    if rng.random() < 0.5:
        count = rng.choice((2**32 - 1, 10**6, 0))
        path.write_bytes(bytes(80) + struct.pack("<I", count) + rng.randbytes(50 * 100))
    else:
        path.write_bytes(b"solid x\n" + rng.choice((b"facet ", b"vertex 1 2 3\n", b"x")) * 10**6)


def _flip(path: Path, rng: random.Random) -> None:
    raw = bytearray(path.read_bytes())
    for _ in range(rng.choice((1, 5, 50))):
        raw[rng.randrange(len(raw))] ^= 1 << rng.randrange(8)
    path.write_bytes(raw)


KINDS = {"parquet": parquet, "h5": hdf5, "tdms": tdms, "mf4": mf4, "csv": csv, "3mf": threemf, "stl": stl}


def _made(kind: str, path: Path, seed: int) -> None:
    """In a child: what this process once held would count as memory of those that it starts."""
    child = os.fork()
    if child == 0:
        try:
            KINDS[kind](path, random.Random(f"{kind} {seed}"))
        finally:
            os._exit(0)
    os.waitpid(child, 0)


def read(path: Path, folder: Path) -> tuple[int, str, float, float]:
    """(exit code, what was said, s of CPU, most bytes of a process) of the command that reads a file."""
    words = ["sections", path, "--unit", "mm"]
    if path.suffix not in (".3mf", ".stl"):
        words = ["trace", folder / "e.yaml", "--rpm", "3000", "--measured", path]
    run = [sys.executable, "-m", "aircolumn", *map(str, words), "--out", str(folder / "o")]
    with (folder / "said").open("w+b") as said:
        process = subprocess.Popen(run, stdout=said, stderr=said)
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        said.seek(0)
        text = said.read().decode(errors="replace")
    return process.returncode, text, used.ru_utime + used.ru_stime, 1024.0 * used.ru_maxrss


def run(count: int, first: int = 0) -> tuple[list[str], float, float]:
    """(what should not have been, most s of CPU, most bytes) of ``count`` files."""
    wrong, slowest, largest = [], 0.0, 0.0
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "e.yaml").write_text(CLASSROOM.read_text())
        for seed in range(first, first + count):
            kind = list(KINDS)[seed % len(KINDS)]
            path = folder / f"bomb.{kind}"
            _made(kind, path, seed)
            code, text, seconds, size = read(path, folder)
            if code == 2:
                slowest, largest = max(slowest, seconds), max(largest, size)
            if code not in (0, 1, 2) or "Traceback" in text:
                wrong.append(f"{kind} {seed}: code {code}: {text[-300:]}")
            if code == 2 and (size > LARGE or (seconds > LONG and seconds > allowed(LONG))):
                wrong.append(f"{kind} {seed}: {seconds:.1f} s, {1e-9 * size:.2f} GB: {text[-200:]}")
            path.unlink()
            print(
                f"{seed} {kind}: code {code}, {seconds:.1f} s, {1e-9 * size:.2f} GB",
                file=sys.stderr,
                flush=True,
            )
    return wrong, slowest, largest


if __name__ == "__main__":
    begin = time.monotonic()
    found, longest, most = run(*map(int, sys.argv[1:]))
    print("\n".join(found))
    took = f"{time.monotonic() - begin:.0f} s"
    print(f"{len(found)} wrong; most: {longest:.1f} s of CPU, {1e-9 * most:.2f} GB; {took}")
