"""Jobs: list, make, delete, change, take back; job files up and down."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from fastapi import APIRouter, Request, Response

from img2pour.job.faults import JobError
from img2pour.job.model import Job
from img2pour.job.reading import read_job
from img2pour.web.answers import (
    attachment,
    body_json,
    desk_of,
    job_of,
    job_text,
    json_answer,
    on_disk,
    state_of,
)
from img2pour.web.edits import Change, changed, read_changes, without_paths
from img2pour.web.faults import RefusedError, refused_settings
from img2pour.web.looking import size_of_picture
from img2pour.web.standing import with_stages
from img2pour.web.store import StoredJob
from img2pour.web.tables import page_tables

routes = APIRouter(prefix="/api")


@routes.get("/tables")
async def tables(request: Request) -> Response:
    """Return bits, resins, woods and whatever can be chosen."""
    settings = desk_of(request).settings
    return json_answer(await on_disk(lambda: page_tables(settings)))


@routes.get("/jobs")
async def listing(request: Request) -> Response:
    """Return all jobs and the room that they take."""
    store = desk_of(request).store
    jobs = await on_disk(store.listing)
    used = await on_disk(store.used_bytes)
    return json_answer({"jobs": jobs, "used_bytes": used, "cap_bytes": store.cap_bytes})


@routes.post("/jobs")
async def create(request: Request) -> Response:
    """Make a job of a picture: the body is the file itself."""
    desk = desk_of(request)
    stated = request.headers.get("content-length", "0")
    try:
        await on_disk(lambda: desk.store.need_room(int(stated) if stated.isdecimal() else 0))
    except RefusedError:
        async for _ in request.stream():  # who is cut off while sending does not read why
            pass
        raise
    incoming = desk.store.incoming()
    try:
        sha256, size = await _receive(request, incoming)
        await on_disk(lambda: desk.store.need_room(0))
        if not size:
            raise RefusedError(415, "the file is empty; choose another one")
        label = unquote(request.headers.get("x-file-name", "picture"), errors="replace")
        width, height = await size_of_picture(desk.pool, incoming, label)
        job_id = await on_disk(lambda: desk.store.create(incoming, label, width, height, sha256))
    finally:
        incoming.unlink(missing_ok=True)
    desk.ensure(desk.store.open(job_id))
    return json_answer({"id": job_id}, 201)


async def _receive(request: Request, path: Path) -> tuple[str, int]:
    """Write a body to disk as it comes; return its hash and size."""
    digest, size = hashlib.sha256(), 0
    with path.open("xb") as file:
        async for chunk in request.stream():
            digest.update(chunk)
            size += len(chunk)
            file.write(chunk)
    return digest.hexdigest(), size


@routes.delete("/jobs/{job_id}")
async def delete(request: Request, job_id: str) -> Response:
    """Delete a job."""
    desk = desk_of(request)
    job_of(request, job_id)
    await desk.forget(job_id)
    await on_disk(lambda: desk.store.delete(job_id))
    return Response(status_code=204)


@routes.get("/jobs/{job_id}")
async def state(request: Request, job_id: str) -> Response:
    """Return a job's state; what is missing of its parts begins to be worked out."""
    desk, stored = desk_of(request), job_of(request, job_id)
    desk.ensure(stored)
    return json_answer(state_of(desk, stored))


@routes.post("/jobs/{job_id}/edit")
async def edit(request: Request, job_id: str) -> Response:
    """Change settings: all of them, or none."""
    data = await body_json(request)
    stored = job_of(request, job_id)
    label = data.get("label")
    if not isinstance(label, str) or not label.strip():
        raise RefusedError(400, "say in a label what is changed")
    changes = read_changes(data.get("changes"))
    return await apply(request, stored, label, changes, data.get("revision"))


async def apply(
    request: Request, stored: StoredJob, label: str, changes: list[Change], revision: Any = None
) -> Response:
    """Change a job and answer with its new state; a revision that is given must be the present."""
    desk = desk_of(request)

    def wanted() -> tuple[Job, tuple[str, ...]]:
        need_revision(stored, revision)
        all_changes = with_stages(desk.standing(stored), changes)
        return changed(stored.job, all_changes, desk.settings.max_megapixels), ()

    return await take(request, stored, label, wanted)


def need_revision(stored: StoredJob, revision: Any) -> None:
    """Raise where a job was changed since the page saw it.

    Raises
    ------
    RefusedError
    """
    if revision is not None and revision != stored.state.revision:
        raise RefusedError(409, "the job was changed meanwhile; it is shown anew")


async def take(
    request: Request,
    stored: StoredJob,
    label: str,
    wanted: Callable[[], tuple[Job, tuple[str, ...]]],
) -> Response:
    """Make what is wanted the newest step of a job's history."""
    desk = desk_of(request)
    async with desk.changing(stored.id):
        job, notes = wanted()
        await on_disk(lambda: stored.change(label, job, notes))
    desk.changed(stored)
    return json_answer(state_of(desk, stored))


@routes.post("/jobs/{job_id}/undo")
async def undo(request: Request, job_id: str) -> Response:
    """Take the last change back."""
    return await _step(request, job_id, "undo")


@routes.post("/jobs/{job_id}/redo")
async def redo(request: Request, job_id: str) -> Response:
    """Bring back what was taken back."""
    return await _step(request, job_id, "redo")


async def _step(request: Request, job_id: str, way: str) -> Response:
    desk, stored = desk_of(request), job_of(request, job_id)
    async with desk.changing(stored.id):
        await on_disk(stored.undo if way == "undo" else stored.redo)
    desk.changed(stored)
    return json_answer(state_of(desk, stored))


@routes.get("/jobs/{job_id}/job.toml")
async def job_file(request: Request, job_id: str) -> Response:
    """Return the job file."""
    stored = job_of(request, job_id)
    return Response(job_text(stored), media_type="application/toml", headers=attachment("job.toml"))


@routes.put("/jobs/{job_id}/job.toml")
async def put_job_file(request: Request, job_id: str) -> Response:
    """Take the settings of a job file for the picture on the page."""
    desk, stored = desk_of(request), job_of(request, job_id)
    wanted = _read_upload(await request.body(), stored, desk.settings.max_megapixels)
    return await take(request, stored, "settings from a job file", wanted)


def _read_upload(
    body: bytes, stored: StoredJob, max_megapixels: float
) -> Callable[[], tuple[Job, tuple[str, ...]]]:
    """Return what reads an uploaded job file.

    Raises
    ------
    RefusedError
        Every line that is wrong.
    """

    def read() -> tuple[Job, tuple[str, ...]]:
        try:
            job = read_job(body.decode("utf-8-sig"))
        except UnicodeDecodeError:
            raise RefusedError(422, "this is no job file: it is not text in UTF-8") from None
        except JobError as error:
            refused = refused_settings(error.faults)
            raise RefusedError(422, str(error), refused.faults) from None
        return without_paths(job, stored.state.picture.name, max_megapixels)

    return read
