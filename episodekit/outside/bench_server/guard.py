"""Nobody but a device that was let in reads or writes anything, and no other site's page does it for them.

- Host must name this server, or a foreign site could point a name of its own here (DNS rebinding).
- A write must come from this server's own page by its Origin; browsers send it with every POST.
- Everything but the enter page needs the cookie. It is kept from scripts and from other sites' requests.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from episodekit.outside.resources import templates_dir

OPEN = frozenset({"/enter", "/static/enter.js", "/static/enter.css"})
"""What is answered without a cookie; none of it tells of the job."""

HEADERS = {
    "Content-Security-Policy": "default-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; "
    "object-src 'none'",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
    "Cache-Control": "no-store",
}
"""Sent with every answer (OWASP HTTP Headers Cheat Sheet; CSP Level 3; Fetch Metadata)."""


def refusal(code: int, why: str, headers: Mapping[str, str] | None = None) -> Response:
    """An answer that is none, with its reason."""
    return JSONResponse({"why": why}, code, headers)


class Guard:
    """Passes on to `app` what may pass; `knows` tells a device's cookie. The cookie's name is the job's."""

    def __init__(
        self, app: ASGIApp, hosts: frozenset[str], cookie: str, knows: Callable[[str], bool]
    ) -> None:
        self._app = app
        self._hosts = hosts
        self._cookie = cookie
        self._knows = knows

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = {name.lower().encode() for name in HEADERS}
                kept = [pair for pair in message.get("headers", []) if pair[0].lower() not in own]
                message["headers"] = [
                    *kept,
                    *((name.lower().encode(), value.encode()) for name, value in HEADERS.items()),
                ]
            await send(message)

        app: ASGIApp = self._refuse(scope) or self._app
        await app(scope, receive, send_guarded)

    def _refuse(self, scope: Scope) -> Response | None:
        """Why a request may not pass, or None."""
        request = Request(scope)
        hosts = request.headers.getlist("host")
        if len(hosts) != 1 or not self._is_ours(hosts[0].lower(), scope):
            return refusal(403, "The address is not this server's. Use the one in the terminal.")
        path, reads = scope["path"], scope["method"] in {"GET", "HEAD"}
        if not reads and request.headers.getlist("origin") != [f"http://{hosts[0]}"]:
            return refusal(403, "Another site's page may not write here.")
        site = request.headers.get("sec-fetch-site", "none")
        if path not in OPEN and site not in {"same-origin", "none"}:
            return refusal(403, "Another site's page may not ask here.")
        if path not in OPEN and not self._knows(request.cookies.get(self._cookie, "")):
            if path == "/" and reads:  # somebody looks at it; the page says what to do
                return FileResponse(templates_dir() / "bench" / "enter.html", 401, media_type="text/html")
            return refusal(
                401, "This device has not entered. Open the address in the terminal, or scan its code."
            )
        if request.headers.get("x-bench-job", self._cookie) != self._cookie:
            # A page that was left open, with marks of a job that had this address before.
            why = "Another job's bench log is open here now. The marks are kept; open this job's again."
            return refusal(409, why)
        return None

    def _is_ours(self, host: str, scope: Scope) -> bool:
        """Whether a Host is ours: an address known at the start, or the one at which this request came in."""
        if host in self._hosts:
            return True
        server = scope.get("server")
        return server is not None and server[1] is not None and host == f"{server[0]}:{server[1]}"
