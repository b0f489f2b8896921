"""The page's application: routes, the built page, and how errors are told."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import FileResponse, JSONResponse
from starlette.exceptions import HTTPException

from img2pour.errors import Img2PourError
from img2pour.web import routes_files, routes_jobs, routes_tryouts, routes_work
from img2pour.web.desk import Desk
from img2pour.web.door import Door
from img2pour.web.faults import RefusedError
from img2pour.web.guard import Guard
from img2pour.web.pool import Pool
from img2pour.web.settings import PageSettings
from img2pour.web.store import Store

BUILT = Path(__file__).parent / "built"
KINDS = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".woff2": "font/woff2",
    ".wasm": "application/wasm",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".ico": "image/x-icon",
}
LONG = "public, max-age=31536000, immutable"

log = logging.getLogger("img2pour.web")


def create_app(settings: PageSettings, door: Door) -> FastAPI:
    """Return the application over one data folder.

    Parameters
    ----------
    settings : PageSettings
    door : Door
        Who may come in.
    """
    store = Store(settings.jobs, settings.cap_bytes)
    desk = Desk(store, Pool(settings), settings)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        await desk.start()
        try:
            yield
        finally:
            await desk.close()

    app = FastAPI(
        title="img2pour", docs_url=None, redoc_url=None, openapi_url=None, lifespan=lifespan
    )
    app.state.desk = desk
    for part in (routes_jobs, routes_work, routes_files, routes_tryouts):
        app.include_router(part.routes)
    app.add_api_route("/", _page, methods=["GET"])
    app.add_api_route("/{name:path}", _built, methods=["GET"])
    app.add_exception_handler(Img2PourError, _told)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _unreadable)
    app.add_exception_handler(OSError, _disk)
    app.add_middleware(Guard, door=door, settings=settings)
    return app


async def _page() -> Response:
    """Return the page itself."""
    index = BUILT / "index.html"
    if not index.is_file():
        raise RefusedError(404, "the page is not built; run npm run build in img2pour/web/page")
    return FileResponse(index, media_type=KINDS[".html"], headers={"cache-control": "no-cache"})


async def _built(name: str) -> Response:
    """Return a file of the built page; only names that are there can be asked for."""
    if name.startswith("api/") or name not in _names():
        raise RefusedError(404, "there is no such address")
    path = BUILT / name
    kind = KINDS.get(path.suffix, "application/octet-stream")
    cache = LONG if name.startswith("assets/") else "no-cache"
    return FileResponse(path, media_type=kind, headers={"cache-control": cache})


def _names() -> set[str]:
    """Return the names of all files of the built page."""
    files = (path for path in BUILT.rglob("*") if path.is_file())
    return {path.relative_to(BUILT).as_posix() for path in files}


async def _told(request: Request, error: Exception) -> Response:
    """Answer with the words of an expected error."""
    status, faults = 422, []
    if isinstance(error, RefusedError):
        status = error.status
        faults = [{"path": one.path, "message": one.message} for one in error.faults]
    elif name := getattr(error, "name", ""):
        faults = [{"path": name, "message": str(error)}]
    data = {"message": str(error)} | ({"faults": faults} if faults else {})
    return JSONResponse(data, status)


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    words = {404: "there is no such address", 405: "this address does not take that"}
    message = words.get(error.status_code, "this cannot be done")
    return JSONResponse({"message": message}, error.status_code)


async def _unreadable(request: Request, error: Exception) -> Response:
    return JSONResponse({"message": "this address is not written as it should be"}, 400)


async def _disk(request: Request, error: Exception) -> Response:
    log.error("%s %s", request.method, request.url.path, exc_info=error)
    return JSONResponse({"message": "the disk refuses this; is there room on it?"}, 503)
