"""The routes of the bench log. What a page may ask and send stands here; who may ask, in `guard.py`."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from episodekit.bench.model import InClip
from episodekit.formats.bench_posted import Malformed, read_key, read_marks
from episodekit.outside.bench_server.entrance import LASTS, Entrance, Wait
from episodekit.outside.bench_server.guard import Guard, refusal
from episodekit.outside.bench_server.log_file import LogFile, LogUnwritable
from episodekit.outside.bench_server.logged import LoggedMark
from episodekit.outside.bench_server.plan_watch import PlanWatch
from episodekit.outside.pages import bench_page
from episodekit.outside.resources import templates_dir

LARGEST_BODY = 64 * 1024
_SLOWEST_BODY = 20.0
"""Seconds in which a message must have come; a phone at the edge of a network is slow, but not so slow."""
_KINDS_OF_FILES = {
    ".css": "text/css",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".webp": "image/webp",
    ".woff2": "font/woff2",
    ".mp4": "video/mp4",
    ".webm": "video/webm",
    ".txt": "text/plain",
}


@dataclass(frozen=True)
class Bench:
    """What the routes work on."""

    plan: PlanWatch
    log: LogFile
    entrance: Entrance
    cookie: str


def application(bench: Bench, hosts: frozenset[str]) -> ASGIApp:
    """The whole server as one ASGI application; `hosts` are the names it answers to."""
    routes = _Routes(bench)
    inner = Starlette(
        routes=[
            Route("/", routes.page, methods=["GET"]),
            Route("/enter", routes.enter_page, methods=["GET"]),
            Route("/enter", routes.enter, methods=["POST"]),
            Route("/static/{name}", routes.static, methods=["GET"]),
            Route("/job", routes.job, methods=["GET"]),
            Route("/time", routes.time, methods=["GET"]),
            Route("/marks", routes.marks, methods=["GET"]),
            Route("/marks", routes.take, methods=["POST"]),
        ],
        exception_handlers={404: _no_such, 405: _no_such, LogUnwritable: _log_unwritable},
    )
    inner.router.redirect_slashes = False  # it would answer with a Host of the asker's choice
    return Guard(inner, hosts, bench.cookie, bench.entrance.knows)


def static_files() -> Mapping[str, Path]:
    """The page's files by name. A name that is asked for is looked up here and never joined to a folder."""
    return {
        path.name: path for path in (templates_dir() / "bench").iterdir() if path.suffix in _KINDS_OF_FILES
    }


class _Routes:
    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._files = static_files()

    async def page(self, request: Request) -> Response:
        shown = await run_in_threadpool(self._bench.plan.now)
        return HTMLResponse(await run_in_threadpool(bench_page, shown.sheet.title, self._bench.cookie))

    async def enter_page(self, request: Request) -> Response:
        return FileResponse(templates_dir() / "bench" / "enter.html", media_type="text/html")

    async def static(self, request: Request) -> Response:
        path = self._files.get(request.path_params["name"])
        if path is None:
            return refusal(404, "There is no such file.")
        return FileResponse(path, media_type=_KINDS_OF_FILES[path.suffix])

    async def enter(self, request: Request) -> Response:
        raw = await _body(request)
        if isinstance(raw, Response):
            return raw
        address = request.client.host if request.client else ""
        try:
            secret = await run_in_threadpool(self._bench.entrance.enter, read_key(raw), address)
        except Malformed as error:
            return refusal(400, str(error))
        except Wait as error:
            return refusal(429, str(error), {"Retry-After": str(error.seconds)})
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            return refusal(503, f"The device cannot be remembered: {why}.")
        if secret is None:
            return refusal(
                401, "That key is not good, or was used before. The terminal shows the one that is."
            )
        done = Response(status_code=204)
        done.set_cookie(self._bench.cookie, secret, max_age=LASTS, httponly=True, samesite="strict")
        return done

    async def job(self, request: Request) -> Response:
        shown = await run_in_threadpool(self._bench.plan.now)
        told = {"edition": shown.edition, "problem": shown.problem, "keys": {}, "now": _now()}
        return JSONResponse({**asdict(shown.sheet), **told})

    async def time(self, request: Request) -> Response:
        return JSONResponse({"now": _now(), "job": self._bench.plan.last.edition})

    async def marks(self, request: Request) -> Response:
        shown = await run_in_threadpool(self._bench.plan.now)
        look = await run_in_threadpool(self._bench.log.look, shown.offset)
        since = 0
        asked = request.query_params.get("since", "")
        if request.query_params.get("edition") == look.edition and asked.isascii() and asked.isdigit():
            since = min(int(asked[:9]), len(look.marks))
        return JSONResponse(
            {
                "marks": [_as_sent(mark) for mark in look.marks[since:]],
                "since": since,
                "count": len(look.marks),
                "unread": look.unread,
                "edition": look.edition,
                "job": shown.edition,
                "now": _now(),
            }
        )

    async def take(self, request: Request) -> Response:
        raw = await _body(request)
        if isinstance(raw, Response):
            return raw
        try:
            posted, refused = read_marks(raw, _now())
        except Malformed as error:
            return refusal(400, str(error))
        # The offset is that of the plan as last shown: a mark must not wait for job.md.
        taken, others = await run_in_threadpool(self._bench.log.take, posted, self._bench.plan.last.offset)
        told = [{"id": one.id, "why": one.why} for one in (*refused, *others)]
        return JSONResponse({"taken": list(taken), "refused": told, "now": _now()})


def _now() -> float:
    """This machine's clock in ms since 1970."""
    return time.time_ns() / 1e6


def _as_sent(logged: LoggedMark) -> dict[str, Any]:
    mark = logged.mark
    if isinstance(mark.when, InClip):
        written = f"{mark.when.clip} @ {mark.when.label}"
    else:
        assert isinstance(mark.when, datetime)
        written = mark.when.isoformat(timespec="milliseconds")
    return {
        "id": mark.id,
        "time": written,
        "at": logged.at,
        "kind": mark.kind,
        "step": mark.step,
        "text": mark.text,
        "of": mark.of,
    }


async def _body(request: Request) -> bytes | Response:
    """The message, or the refusal of one that is too large, too slow or of another type."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != "application/json":
        return refusal(415, "Send application/json.")
    said = request.headers.get("content-length", "0")
    if said.isascii() and said.isdigit() and int(said[:12]) > LARGEST_BODY:
        return refusal(413, "A message has 64 kB at most.", {"Connection": "close"})
    raw = bytearray()
    try:
        async with asyncio.timeout(_SLOWEST_BODY):
            async for part in request.stream():
                raw += part
                if len(raw) > LARGEST_BODY:
                    return refusal(413, "A message has 64 kB at most.", {"Connection": "close"})
    except TimeoutError:
        return refusal(408, "The message did not come in time.", {"Connection": "close"})
    except ClientDisconnect:
        return refusal(400, "The message was cut off.")
    return bytes(raw)


async def _no_such(request: Request, error: Exception) -> Response:
    code = getattr(error, "status_code", 404)
    return refusal(code, "There is no such page." if code == 404 else "That cannot be done here.")


async def _log_unwritable(request: Request, error: Exception) -> Response:
    return refusal(503, str(error))
