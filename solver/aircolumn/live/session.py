"""What happens between the page and the engine: messages in, state and curves out."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable, Coroutine
from contextlib import suppress
from time import monotonic
from typing import Any

from starlette.websockets import WebSocket, WebSocketDisconnect

from aircolumn.display_units import unit
from aircolumn.errors import ComputationError, InputError, RequestError
from aircolumn.live.drawing import drawing_of
from aircolumn.live.follow import Follower, GivenUp
from aircolumn.live.keys import all_keys, values_of
from aircolumn.live.laid_over import laid_over
from aircolumn.live.opened import Opened, problems_of
from aircolumn.live.unsure import unsure
from aircolumn.live.why import why_at

REST = 0.1  # s without a change, after which the file's accuracy is computed
TELL = 0.25  # s between words of progress
LOOK = 1.0  # s between looks at the file on the disk
SHOWN = ("torque", "power", "share", "length", "volume")
Job = Callable[[], Coroutine]
DROPPED = (RuntimeError, WebSocketDisconnect)  # of a page that has gone


class Latest:
    """One job at a time, beside what the page does; of those asked for meanwhile the newest waits."""

    def __init__(self) -> None:
        self.task: asyncio.Task | None = None
        self.waiting: Job | None = None

    def ask(self, job: Job) -> None:
        """Begin it, or let it wait."""
        if self.task is not None and not self.task.done():
            self.waiting = job
        else:
            self.task = asyncio.create_task(self._all(job))

    async def _all(self, job: Job | None) -> None:
        while job is not None:
            await job()
            job, self.waiting = self.waiting, None


class LiveSession:
    """One file, one page that may change it; others are told. version: grows with every change."""

    def __init__(self, opened: Opened) -> None:
        self.opened, self.follower = opened, Follower()
        self.keys = all_keys()
        self.version, self.first = 1, next(iter(opened.description.candidates))
        self.pages: list[WebSocket] = []
        self.hand: WebSocket | None = None
        self.wake = asyncio.Event()
        self.said_of_disk = False
        self.tasks: list[asyncio.Task] = []
        self.reasons, self.pulls = Latest(), Latest()
        self.sure: asyncio.Task | None = None  # what computes bands
        self.stopped = False

    async def page(self, socket: WebSocket) -> None:
        """One page, from its first word to its last."""
        await socket.accept()
        if not self.tasks:
            self.tasks = [asyncio.create_task(job()) for job in (self._follow, self._look)]
        self.pages.append(socket)
        if self.hand is None:
            self.hand = socket
        try:
            await self._tell(socket, {"kind": "keys", "keys": self.keys, "units": _units()})
            await self._tell(socket, self._state(socket))
            await self._all_curves(socket)
            self.wake.set()
            while True:
                await self._heard(socket, await socket.receive_text())
        except DROPPED:
            pass
        finally:
            self.pages.remove(socket)
            if self.hand is socket:
                self.hand = self.pages[0] if self.pages else None
                if self.hand is not None:
                    await self._tell(self.hand, self._state(self.hand))

    async def end(self) -> None:
        """Give up what is being computed."""
        self.version += 1  # what is being computed is of no use any more
        for task in self.tasks:
            task.cancel()
        self.follower.forget()

    async def _heard(self, socket: WebSocket, text: str) -> None:
        """One message of a page: {do: ..., n: its number}."""
        message = _message(text)
        what = message.get("do")
        if what == "take over":
            self.hand = socket
            for page in self.pages:
                await self._tell(page, self._state(page))
            return
        if what == "why":
            self.reasons.ask(lambda: self._why(socket, message))
            return
        if what == "pull":
            self.pulls.ask(lambda: self._pull(socket, message))
            return
        if what in ("bands", "stop bands"):
            self.stopped = what != "bands"
            if not self.stopped and (self.sure is None or self.sure.done()):
                self.sure = asyncio.create_task(self._bands(socket))
            return
        doing = DOINGS.get(str(what))
        if doing is None or socket is not self.hand:
            return
        path = _path(message)
        try:
            doing(self.opened, message)
        except (RequestError, InputError) as error:
            await self._wrong(socket, message, path, problems_of(error, path))
            return
        except (KeyError, TypeError, ValueError, AttributeError):
            await self._wrong(socket, message, path, [])
            return
        if message.get("candidate") in self.opened.description.candidates:
            self.first = message["candidate"]
        self.version += 1
        state = self._state(socket) | {"n": message.get("n")}
        for page in list(self.pages):
            await self._tell(page, state if page is socket else self._state(page))
        self.wake.set()

    async def _wrong(self, socket: WebSocket, message: dict, path: tuple, problems: list[dict]) -> None:
        told = {"kind": "wrong", "n": message.get("n"), "path": list(path), "problems": problems}
        await self._tell(socket, told)

    def _state(self, socket: WebSocket) -> dict[str, Any]:
        """Everything of the engine but its curves."""
        o = self.opened
        found = o.description.candidates
        return {
            "kind": "state",
            "version": self.version,
            "title": o.description.engine.title,
            "file": o.path.name,
            "changed": o.changed,
            "other": o.changed_on_disk,
            "restored": o.restored,
            "undo": len(o.past),
            "redo": len(o.future),
            "mine": socket is self.hand,
            "group": o.group,
            "names": list(found),
            "drawings": {n: drawing_of(one) for n, one in found.items()},
            "values": {n: values_of(one, self.keys) for n, one in found.items()},
        }

    async def _follow(self) -> None:
        """Compute what has changed, for ever."""
        while True:
            await self.wake.wait()
            self.wake.clear()
            version = self.version
            with suppress(GivenUp):
                await self._curves(version, self._coarse)
                if await self._rested():
                    await self._curves(version, self._fine)

    async def _rested(self) -> bool:
        """Whether nothing has changed for a while."""
        try:
            await asyncio.wait_for(self.wake.wait(), REST)
        except TimeoutError:
            return True
        return False

    def _coarse(self, wanted: Callable[[], bool]) -> dict[str, Any]:
        curves = self.follower.coarse(self.opened.description, self.first, wanted)
        return {"curves": curves, "accuracy": "coarse"}

    def _fine(self, wanted: Callable[[], bool]) -> dict[str, Any]:
        curves, said = self.follower.fine(self.opened.description, wanted)
        return {"curves": curves, "said": said, "accuracy": "file"}

    async def _curves(self, version: int, compute: Callable) -> None:
        """Curves of one version, told if they are still those of the file."""
        begun = monotonic()
        try:
            found = await asyncio.to_thread(compute, lambda: self.version == version)
        except GivenUp:
            raise
        except Exception as error:  # whatever it is, the page goes on and says so
            found = {"curves": [], "accuracy": "", "wrong": str(error) or type(error).__name__}
        if self.version != version:
            raise GivenUp
        for page in list(self.pages):
            told = {"kind": "curves", "version": version, "took": monotonic() - begun}
            await self._tell(page, told | found)

    async def _all_curves(self, socket: WebSocket) -> None:
        """What is known already, to a page that has just come."""
        for accuracy, curves in self.follower.known(self.opened.description):
            told = {"kind": "curves", "version": self.version, "accuracy": accuracy, "curves": curves}
            await self._tell(socket, told)

    async def _why(self, socket: WebSocket, message: dict) -> None:
        """Reasons and the wave at one speed of one candidate."""
        version, name = self.version, message.get("candidate")
        one = self.opened.description.candidates.get(name) if isinstance(name, str) else None
        rpm = message.get("rpm")
        if one is None or not isinstance(rpm, (int, float)) or not 100 <= rpm <= 30000:
            return
        try:
            found = await asyncio.to_thread(why_at, one.engine, float(rpm))
        except (ComputationError, RequestError) as error:
            found = {"said": [str(error)]}
        told = {"kind": "why", "version": version, "name": name, "rpm": rpm, **found}
        await self._tell(socket, told)

    async def _pull(self, socket: WebSocket, message: dict) -> None:
        """A measured pull that was dropped on the page."""
        name, file, content = (str(message.get(key)) for key in ("candidate", "file", "content"))
        if name not in self.opened.description.candidates:
            return
        try:
            found = await asyncio.to_thread(laid_over, self.opened.description, name, file, content)
        except (ComputationError, RequestError) as error:
            found = {"name": name, "said": [str(error)]}
        await self._tell(socket, {"kind": "pull", **found})

    async def _bands(self, socket: WebSocket) -> None:
        """Bands of the engine as it is, with progress; given up by a change, or if asked to."""
        version, loop, last = self.version, asyncio.get_running_loop(), [0.0]

        def progress(done: int, total: int | None) -> None:
            if self.stopped or self.version != version:
                raise GivenUp
            if monotonic() - last[0] > TELL:
                last[0] = monotonic()
                told = {"kind": "bands", "version": version, "done": done, "of": total}
                asyncio.run_coroutine_threadsafe(self._tell(socket, told), loop)

        try:
            found = await asyncio.to_thread(unsure, self.opened.description, progress)
        except GivenUp:
            found = {"said": ["stopped"]}
        except (ComputationError, RequestError, InputError) as error:
            found = {"said": [str(error)]}
        await self._tell(socket, {"kind": "bands", "version": version, **found})

    async def _look(self) -> None:
        """Notice that another program has changed the file."""
        while True:
            await asyncio.sleep(LOOK)
            now = self.opened.changed_on_disk
            if now != self.said_of_disk:
                self.said_of_disk = now
                for page in list(self.pages):
                    await self._tell(page, self._state(page))

    async def _tell(self, socket: WebSocket, message: dict[str, Any]) -> None:
        with suppress(*DROPPED):
            await socket.send_text(json.dumps(message, allow_nan=False, default=float))


def _message(text: str) -> dict[str, Any]:
    """What a page says; {} for what is none of our messages."""
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) and isinstance(found.get("do"), str) else {}


def _path(message: dict[str, Any]) -> tuple[str | int, ...]:
    """The key that a message is about."""
    told = message.get("path")
    return tuple(p for p in told if isinstance(p, (str, int))) if isinstance(told, list) else ()


def _put(opened: Opened, m: dict) -> None:
    opened.put(_path(m), str(m["text"]), m["candidate"], bool(m.get("shared")), m.get("move"))


def _units() -> dict[str, Any]:
    """How the page shows SI values: name, factor, decimals."""
    return {kind: [(u := unit(kind)).name, u.factor, u.decimals] for kind in SHOWN}


DOINGS: dict[str, Callable[[Opened, dict], None]] = {
    "put": _put,
    "take away": lambda o, m: o.take_away(_path(m), m["candidate"]),
    "undo": lambda o, m: o.undo(),
    "redo": lambda o, m: o.redo(),
    "save": lambda o, m: o.save(),
    "overwrite": lambda o, m: o.overwrite(),
    "take disk": lambda o, m: o.take_disk(),
    "add": lambda o, m: o.candidate("add", m["candidate"], str(m["to"])),
    "rename": lambda o, m: o.candidate("rename", m["candidate"], str(m["to"])),
    "delete": lambda o, m: o.candidate("delete", m["candidate"]),
    "order": lambda o, m: o.candidate("order", "", names=[str(n) for n in m["names"]]),
}
