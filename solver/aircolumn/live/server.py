"""The server of one page, for this machine's user alone.

It listens on 127.0.0.1. The address that opens the page holds a token, which is exchanged once for a cookie
that scripts cannot read and other sites cannot send; then it leaves the address. Cookie, Host and Origin are
checked at every request and at the websocket's handshake. Nothing is fetched from anywhere, and the content
security policy lets nothing run but the files beside this one.
"""

from __future__ import annotations

import secrets
from importlib.resources import files
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs

import uvicorn
from starlette.applications import Starlette
from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route, WebSocketRoute

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.types import ASGIApp, Receive, Scope, Send

    from aircolumn.live.session import LiveSession

HOST = "127.0.0.1"
LARGEST_MESSAGE = 3 * 2**20  # bytes: a pull in base64, and more than any other
MOST_AT_ONCE = 40  # requests and pages
GRACE = 2  # s, for pages to hear that it ends
KINDS = {
    ".svg": "image/svg+xml",
    ".html": "text/html",
    ".js": "text/javascript",
    ".css": "text/css",
    ".txt": "text/plain",
}
HEADERS = {
    "content-security-policy": "default-src 'self'; base-uri 'none'; form-action 'none';"
    " frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}
USED = "This address has been used already, or is not that of this page. Run the command again for a new one."


class Door:
    """Lets in whoever holds the cookie, from this page's own address."""

    def __init__(self, app: ASGIApp, port: int) -> None:
        self.app, self.port = app, port
        self.token: str | None = secrets.token_urlsafe(24)
        self.secret = secrets.token_urlsafe(24)
        self.cookie = f"aircolumn-{port}"
        self.hosts = {f"{HOST}:{port}", f"localhost:{port}"}

    @property
    def address(self) -> str:
        """What opens the page, once."""
        return f"http://{HOST}:{self.port}/?token={self.token}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        answer = self._refusal(scope, headers)
        if answer is None:
            await self.app(scope, receive, _with_headers(send))
        elif scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
        else:
            await answer(scope, receive, _with_headers(send))

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        """What is answered in place of the page; None if it is to be served."""
        host, origin = headers.get("host", ""), headers.get("origin")
        if host not in self.hosts:
            return PlainTextResponse("not this host", 403)
        if (origin is not None or scope["type"] == "websocket") and origin != f"http://{host}":
            return PlainTextResponse("not from this page", 403)
        if scope["type"] == "http" and scope["method"] not in ("GET", "HEAD"):
            return PlainTextResponse("nothing is sent here", 405)
        told = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("token", [""])[0]
        if scope["type"] == "http" and told and self.token and secrets.compare_digest(told, self.token):
            self.token = None
            answer = RedirectResponse("/", 303)
            answer.set_cookie(self.cookie, self.secret, httponly=True, samesite="strict", path="/")
            return answer
        if not secrets.compare_digest(_cookie(headers, self.cookie), self.secret):
            return PlainTextResponse(USED, 403)
        return None


def _cookie(headers: Headers, name: str) -> str:
    for part in headers.get("cookie", "").split(";"):
        key, _, value = part.strip().partition("=")
        if key == name and value.isascii():
            return value
    return ""


def _with_headers(send: Send) -> Send:
    async def sending(message: Any) -> None:
        if message["type"] == "http.response.start":
            more = [(k.encode(), v.encode()) for k, v in HEADERS.items()]
            message = {**message, "headers": [*message.get("headers", []), *more]}
        await send(message)

    return sending


def server_of(door: Door) -> uvicorn.Server:
    """What serves it, with its limits."""
    return uvicorn.Server(
        uvicorn.Config(
            door,
            log_level="critical",
            access_log=False,
            server_header=False,
            lifespan="off",
            ws_max_size=LARGEST_MESSAGE,
            limit_concurrency=MOST_AT_ONCE,
            timeout_graceful_shutdown=GRACE,
        )
    )


def application(session: LiveSession, port: int) -> Door:
    """The page, its files, and the socket over which it is told of the engine."""
    shipped = {path.name: path.read_bytes() for path in files("aircolumn.live").joinpath("page").iterdir()}

    async def file(request: Request) -> Response:
        name = request.path_params.get("name", "page.html")
        if name not in shipped:
            return PlainTextResponse("not here", 404)
        kind = next((k for end, k in KINDS.items() if name.endswith(end)), "application/octet-stream")
        return Response(shipped[name], media_type=kind)

    routes = [
        Route("/", file),
        Route("/{name}", file),
        WebSocketRoute("/follow", session.page),
    ]
    return Door(Starlette(routes=routes), port)
