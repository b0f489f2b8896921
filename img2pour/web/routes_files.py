"""What is taken away: the output folder, file by file or as one zip."""

from __future__ import annotations

import json
import mimetypes
import secrets
import zipfile
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import FileResponse
from starlette.background import BackgroundTask

from img2pour.web.answers import attachment, desk_of, job_of, json_answer, need_size, on_disk
from img2pour.web.faults import RefusedError
from img2pour.web.standing import Standing

routes = APIRouter(prefix="/api/jobs/{job_id}")
OUT = "output"
SHOWN_INLINE = frozenset({".png", ".jpg", ".glb", ".pdf"})
SANDBOX = "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:"
ZIP_TIME = (1980, 1, 1, 0, 0, 0)


@routes.post("/output")
async def make(request: Request, job_id: str) -> Response:
    """Begin to write every file of the present revision; `ready` tells when they are there."""
    desk, stored = desk_of(request), job_of(request, job_id)
    need_size(stored)
    await on_disk(lambda: desk.store.need_room(0))
    standing = desk.ensure(stored)
    desk.write_out(stored)
    return json_answer({"revision": standing.revision}, 202)


@routes.get("/output")
async def listing(request: Request, job_id: str) -> Response:
    """Return the names and sizes of the files that are there, and of which revision they are."""
    standing = desk_of(request).standing(job_of(request, job_id))
    return json_answer(await on_disk(lambda: _listed(standing)))


def _listed(standing: Standing) -> dict[str, Any]:
    """Return what the last output holds.

    Raises
    ------
    RefusedError
        When there is none.
    """
    part = standing.parts.latest(OUT)
    if part is None:
        raise RefusedError(404, "nothing is written yet")
    return {"revision": part.revision, "files": json.loads(standing.parts.read(OUT))}


@routes.get("/output.zip")
async def as_zip(request: Request, job_id: str) -> Response:
    """Return all files as one zip, the picture with them."""
    stored = job_of(request, job_id)
    standing = desk_of(request).standing(stored)
    path = await on_disk(lambda: _zip(standing))
    return FileResponse(
        path,
        media_type="application/zip",
        headers=attachment(f"{stored.state.title}.zip"),
        background=BackgroundTask(path.unlink, missing_ok=True),
    )


def _zip(standing: Standing) -> Path:
    """Write the zip: the same bytes for the same files."""
    stored = standing.stored
    files = _listed(standing)["files"]
    path = stored.folder / f".zip-{secrets.token_hex(8)}"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as zipped:
        for name in (row["name"] for row in files):
            _add(zipped, name, stored.folder / OUT / name)
        names = {row["name"] for row in files}
        if stored.state.picture.name not in names:
            _add(zipped, stored.state.picture.name, stored.picture)
    return path


def _add(zipped: zipfile.ZipFile, name: str, path: Path) -> None:
    entry = zipfile.ZipInfo(name, ZIP_TIME)
    entry.compress_type = zipfile.ZIP_DEFLATED
    zipped.writestr(entry, path.read_bytes())


@routes.get("/output/{name:path}")
async def one(request: Request, job_id: str, name: str) -> Response:
    """Return one file of the output by its name in the list; no other file can be named."""
    stored = job_of(request, job_id)
    standing = desk_of(request).standing(stored)
    listed = await on_disk(lambda: _listed(standing))
    if name not in {row["name"] for row in listed["files"]}:
        raise RefusedError(404, "there is no such file in the output")
    path = stored.folder / OUT / name
    kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
    headers: dict[str, str] = {"cache-control": "no-cache"}
    if path.suffix in (".html", ".svg"):
        headers["content-security-policy"] = SANDBOX
    elif path.suffix not in SHOWN_INLINE:
        headers |= attachment(path.name)
    return FileResponse(path, media_type=kind, headers=headers)
