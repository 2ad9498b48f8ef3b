"""A page that is served, in this process, and two ways to it: plain requests, and the socket."""

import asyncio
import http.client
import json
import socket
import threading
import time
from contextlib import contextmanager

from websockets.sync.client import connect

from aircolumn.live.opened import Opened
from aircolumn.live.server import HOST, application, server_of
from aircolumn.live.session import LiveSession


class Served:
    """The door of a page on a port of its own. cookie: that of its user, once ``enter`` was called."""

    def __init__(self, door, session, port):
        self.door, self.session, self.port, self.cookie = door, session, port, ""
        self.host = f"{HOST}:{port}"

    def get(self, path, method="GET", **headers):
        """(status, headers, body) of a request that names this host and nothing else, but for ``headers``."""
        line = http.client.HTTPConnection(HOST, self.port, timeout=20)
        line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for name, value in ({"host": self.host} | headers).items():
            line.putheader(name, value)
        line.endheaders()
        answer = line.getresponse()
        found = answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()
        line.close()
        return found

    def enter(self):
        """Exchange the token."""
        status, headers, _ = self.get(self.door.address.partition(self.host)[2])
        self.cookie = headers["set-cookie"].partition(";")[0]
        return status, headers

    @contextmanager
    def page(self, origin=None, cookie=None, host=None):
        """The socket, as a page opens it."""
        told = [("Cookie", self.cookie if cookie is None else cookie)]
        address = f"ws://{host or self.host}/follow"
        if origin is None:
            origin = f"http://{self.host}"
        line = socket.create_connection((HOST, self.port))
        how = {"sock": line, "max_size": 2**24, "additional_headers": told}
        with connect(address, origin=origin or None, **how) as line:
            yield Page(line)


class Page:
    """What a page says and hears."""

    def __init__(self, line):
        self.line = line

    def say(self, **message):
        self.line.send(json.dumps(message))

    def hear(self, wanted, within=60.0):
        """The first message for which ``wanted`` is true."""
        end = time.monotonic() + within
        while True:
            message = json.loads(self.line.recv(timeout=end - time.monotonic()))
            if wanted(message):
                return message


@contextmanager
def served(path):
    """The page of an engine file, until the block ends."""
    opened = Opened(path)
    listening = socket.socket()
    listening.bind((HOST, 0))
    port, ready = listening.getsockname()[1], threading.Event()
    found = {}

    async def serving():
        session = LiveSession(opened)
        door = application(session, port)
        server = server_of(door)
        server.install_signal_handlers = lambda: None
        found.update(server=server, door=door, session=session)
        ready.set()
        await server.serve(sockets=[listening])
        await session.end()

    thread = threading.Thread(target=lambda: asyncio.run(serving()))
    thread.start()
    ready.wait()
    while not found["server"].started:
        time.sleep(0.01)
    try:
        yield Served(found["door"], found["session"], port)
    finally:
        found["server"].should_exit = True
        found["server"].force_exit = True
        thread.join()
