"""Who may talk to the page: requests whose Host is ours and whose Origin, if they name one, is the page itself.

A page elsewhere cannot reach it then, neither by a request or socket of its own (Origin; of requests without one, as
for a picture, Sec-Fetch-Site, which today's browsers send) nor by a name that it lets point to this machine (Host).
Paths that are no part of the page are not found. Also tells the browser to load nothing from elsewhere.
"""

from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from typing import Any

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

REFUSED, NOT_THERE = 403, 404
OURS = ("/_nicegui/", "/_nicegui_ws/")  # beside "/": parts of the page, its socket, files to download
OWN_SITE = ("none", "same-origin")  # of Sec-Fetch-Site: typed or opened here, asked for by the page itself
POLICY_VIOLATION = 1008  # close code of a websocket, RFC 6455
LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
HEADERS = (
    # the framework compiles templates of its own in the browser and sets styles on elements: hence the two "unsafe"
    (
        b"content-security-policy",
        b"default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
        b"img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self'; frame-ancestors 'none'; "
        b"base-uri 'none'; form-action 'none'; object-src 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
)


def hosts_of(host: str, port: int) -> frozenset[str]:
    """Values of the Host header that are ours when the page listens on `host` and `port`."""
    names = {*LOOPBACK, f"[{host}]" if ":" in host else host}
    return frozenset({f"{name}:{port}" for name in names} | (names if port == 80 else set()))


class Guard:
    """Refuses requests and sockets of others (403), before the page sees them.

    Parameters
    ----------
    application : ASGI application
        the page
    hosts : iterable of str
        allowed values of the Host header, with the port
    """

    def __init__(self, application: Application, hosts: Iterable[str]) -> None:
        self._application = application
        self._hosts = frozenset(host.lower() for host in hosts)

    def reason(self, headers: Iterable[tuple[bytes, bytes]]) -> str | None:
        """Why a request with these headers is refused; None: it is not."""
        found: dict[bytes, list[str]] = {}
        for name, value in headers:
            found.setdefault(name.lower(), []).append(value.decode("latin-1").strip().lower())
        host, origin = found.get(b"host", []), found.get(b"origin", [])
        if len(host) != 1 or host[0] not in self._hosts:
            return "this page answers to its own address only (Host)"
        if len(origin) > 1 or any(value.removeprefix("http://") not in self._hosts for value in origin):
            return "this page answers to itself only (Origin)"
        if any(value not in OWN_SITE for value in found.get(b"sec-fetch-site", [])):
            return "this page answers to itself only (Sec-Fetch-Site)"
        return None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request, or refuse it."""
        if scope["type"] not in ("http", "websocket"):
            return await self._application(scope, receive, send)
        reason = self.reason(scope["headers"])
        if reason is not None and scope["type"] == "websocket":
            return await send({"type": "websocket.close", "code": POLICY_VIOLATION, "reason": reason})
        if reason is not None:
            return await _say(send, REFUSED, reason)
        if scope["path"] != "/" and not scope["path"].startswith(OURS):
            return await _say(send, NOT_THERE, "not found")

        async def with_headers(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", []), *HEADERS]
            await send(message)

        return await self._application(scope, receive, with_headers)


async def _say(send: Send, status: int, text: str) -> None:
    """Answer in plain text."""
    body = text.encode()
    headers = [(b"content-type", b"text/plain"), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
