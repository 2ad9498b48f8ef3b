"""Edits by the hundred, with kills of the program among them: none that was acknowledged is lost, no stale
curve is told, and the saved file reads back the same."""

import http.client
import os
import random
import re
import signal
import subprocess
import sys
from contextlib import ExitStack, closing, suppress

import numpy as np
import pytest
from tests.conftest import DEMO

import aircolumn

pytest.importorskip("uvicorn")
from tests.live.serving import Page
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

EDITS = 200
LENGTHS, BORES, VOLUMES = range(250, 751, 10), range(38, 51), range(3, 10)


class Program:
    """``aircolumn live`` as a process of its own, and a page on it."""

    def __init__(self, path, cache):
        command = [sys.executable, "-u", "-m", "aircolumn", "live", str(path), "--no-browser"]
        env, self.rest = {**os.environ, "XDG_CACHE_HOME": str(cache)}, ExitStack()
        pipes = {"stderr": subprocess.PIPE, "stdout": subprocess.DEVNULL}
        self.process = self.rest.enter_context(subprocess.Popen(command, env=env, text=True, **pipes))
        while not (found := re.match(r"http://(\S+?)/\?token=(\S+)", self.process.stderr.readline())):
            assert self.process.poll() is None
        host, token = found.groups()
        told = {"origin": f"http://{host}", "additional_headers": [("Cookie", _cookie(host, token))]}
        self.page = Page(self.rest.enter_context(connect(f"ws://{host}/follow", max_size=2**24, **told)))

    def kill(self):
        """As a crash would."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        with suppress(ConnectionClosed, OSError):
            self.page.hear(lambda m: False, 5.0)
        self.rest.close()


def _cookie(host, token):
    name, _, port = host.partition(":")
    with closing(http.client.HTTPConnection(name, int(port), timeout=20)) as line:
        line.request("GET", f"/?token={token}")
        return line.getresponse().getheader("set-cookie").partition(";")[0]


def some_edit(chance, names):
    """A message."""
    name = chance.choice(names)
    kind = chance.choice(["length", "bore", "volume", "length"])
    if kind == "volume":
        litres = f"{chance.choice(VOLUMES)} L"
        return {"path": ["intake", "plenum", "volume"], "text": litres, "candidate": name}
    if kind == "bore":
        bore = f"{chance.choice(BORES)} mm"
        return {"path": ["intake", "runner", "bore", "to"], "text": bore, "candidate": name}
    return {"path": ["intake", "runner", "length"], "text": f"{chance.choice(LENGTHS)} mm", "candidate": name}


@pytest.mark.slow
def test_no_edit_is_lost_and_no_curve_is_stale(tmp_path):
    path, cache, chance = tmp_path / "engine.yaml", tmp_path / "cache", random.Random(4)
    text = (
        DEMO.read_text().replace("from: 1500 rpm", "from: 2500 rpm").replace("to: 6000 rpm", "to: 4500 rpm")
    )
    path.write_text(text)
    program, values, kills = Program(path, cache), {}, 0
    for n in range(EDITS):
        edit = some_edit(chance, ["short", "middle", "long"])
        program.page.say(do="put", n=n, **edit)
        state = program.page.hear(lambda m, n=n: m.get("n") == n)
        assert state["kind"] == "state", state
        key = ".".join(edit["path"])
        own = key.startswith("intake.runner")
        for name in ["short", "middle", "long"]:
            if name == edit["candidate"] or not own:
                values[name, key] = edit["text"]
        for (name, stated), due in values.items():
            assert state["values"][name][stated]["text"] == due, (n, name, stated)
        if chance.random() < 0.1:
            program.kill()
            program, kills = Program(path, cache), kills + 1
            state = program.page.hear(lambda m: m["kind"] == "state")
            assert state["restored"]
            for (name, stated), due in values.items():
                assert state["values"][name][stated]["text"] == due, (n, name, stated)
        elif chance.random() < 0.2:  # a curve, of this version or none
            told = program.page.hear(lambda m: m["kind"] == "curves")
            assert told["version"] == state["version"]
    assert kills > 5
    program.page.say(do="save", n=EDITS)
    state = program.page.hear(lambda m: m.get("n") == EDITS)
    assert not state["changed"]
    told = program.page.hear(lambda m: m["kind"] == "curves" and m["accuracy"] == "file")
    program.kill()
    description = aircolumn.load(path)
    data = aircolumn.compare(description)
    for curve in told["curves"]:
        due = data.torque.sel(runner=curve["name"], rpm=curve["rpm"]).values
        assert np.array_equal(curve["torque"], due)
    before, after = text.splitlines(), path.read_text().splitlines()
    assert len(before) == len(after)
    assert sum(a != b for a, b in zip(before, after, strict=True)) <= 6
