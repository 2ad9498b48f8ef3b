"""``live``: the engine on one page that follows the hand, from a process that stays warm."""

from __future__ import annotations

import socket
import sys
import webbrowser
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.commands import options
from aircolumn.commands.options import option, switch
from aircolumn.commands.results import Answer
from aircolumn.errors import RequestError

if TYPE_CHECKING:
    from aircolumn.live.opened import Opened
    from aircolumn.live.server import Door


@dataclass(frozen=True)
class Request(options.EngineFile):
    """What ``live`` is asked."""

    port: int = option(type=int, default=0, metavar="N", help="port of 127.0.0.1 (default: one that is free)")
    no_browser: bool = switch("print the address alone, open no browser")


@dataclass(frozen=True)
class Closed:
    """The file that was open, and whether changes of it are kept as a draft."""

    file: Path
    unsaved: bool


def run(request: Request) -> Answer[Closed]:
    """Serve the page until Ctrl-C."""
    try:
        import starlette  # noqa: F401
        import uvicorn  # noqa: F401
        import websockets  # noqa: F401
    except ImportError:
        raise RequestError("live needs the extra 'live': pip install 'aircolumn[live]'") from None
    from aircolumn.flow.march.advance import advance
    from aircolumn.live.opened import Opened

    request.read()  # chooses the units
    opened = Opened(request.file)
    advance.make()
    _serve(opened, request)
    said = f"{request.file}: what was not saved is kept as a draft; the next 'live' brings it back"
    told = said if opened.changed else f"{request.file}: nothing is left to be saved"
    return Answer([told], wrap=False, result=lambda: Closed(request.file, opened.changed))


def _serve(opened: Opened, request: Request) -> None:
    """Until Ctrl-C. Raises RequestError for a port that is taken."""
    import asyncio

    from aircolumn.live.server import HOST, MOST_AT_ONCE, application, server_of
    from aircolumn.live.session import LiveSession

    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((HOST, request.port))
        listening.listen(MOST_AT_ONCE)  # before the address is said
    except (OSError, OverflowError) as error:
        raise RequestError(f"--port {request.port}: {error}") from None

    async def serving() -> None:
        session = LiveSession(opened)
        door = application(session, listening.getsockname()[1])
        _open(door, request)
        try:
            await server_of(door).serve(sockets=[listening])
        finally:
            await session.end()

    with suppress(KeyboardInterrupt):  # which uvicorn raises again once it has ended
        asyncio.run(serving())


def _open(door: Door, request: Request) -> None:
    """Say the address, and open it unless that is not wanted or no browser is there."""
    print(
        f"{door.address}\nopen this address in a browser on this machine; Ctrl-C ends it",
        file=sys.stderr,
        flush=True,
    )
    if not request.no_browser:
        webbrowser.open(door.address)
