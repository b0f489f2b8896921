"""Answers that several routes give."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any, TypeVar
from urllib.parse import quote

from fastapi import Request, Response
from fastapi.responses import JSONResponse

from img2pour.job.writing import write_job
from img2pour.web.desk import Desk
from img2pour.web.faults import RefusedError
from img2pour.web.store import StoredJob

T = TypeVar("T")


def desk_of(request: Request) -> Desk:
    """Return the desk of the application."""
    desk: Desk = request.app.state.desk
    return desk


def job_of(request: Request, job_id: str) -> StoredJob:
    """Return a job by its id.

    Raises
    ------
    RefusedError
    """
    return desk_of(request).store.open(job_id)


def need_size(stored: StoredJob) -> None:
    """Raise while nobody has said how large the piece is.

    Raises
    ------
    RefusedError
    """
    if not stored.job.has_size:
        raise RefusedError(422, "say how large the piece shall be first")


async def on_disk(work: Callable[[], T]) -> T:
    """Do what waits for the disk beside everything else."""
    return await asyncio.to_thread(work)


def state_of(desk: Desk, stored: StoredJob) -> dict[str, Any]:
    """Return a job's state as the page reads it."""
    state = stored.state
    return {
        "id": stored.id,
        "title": state.title,
        "revision": state.revision,
        "job": stored.job.model_dump(),
        "text_defaults": desk.defaults,
        "has_size": stored.job.has_size,
        "can_undo": state.at > 0,
        "can_redo": state.at < state.top,
        "undo_label": stored.undo_label,
        "redo_label": stored.redo_label,
        "picture": {
            "width_px": state.picture.width_px,
            "height_px": state.picture.height_px,
            "name": state.picture.name,
        },
        "warnings": list(state.notes),
        "phase": "working" if desk.is_working(stored.id) else "idle",
    }


def json_answer(data: Any, status: int = 200) -> Response:
    """Return plain data."""
    return JSONResponse(data, status)


def job_text(stored: StoredJob) -> bytes:
    """Return the job file: it names the picture as the user knows it."""
    return write_job(stored.job).encode()


def attachment(name: str) -> dict[str, str]:
    """Return the header that makes a browser save a file under a name."""
    return {"content-disposition": f"attachment; filename*=UTF-8''{quote(name, safe='')}"}


async def body_json(request: Request) -> dict[str, Any]:
    """Return the JSON object of a request.

    Raises
    ------
    RefusedError
        When it is none.
    """
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        raise RefusedError(415, "send this as application/json")
    try:
        data = await request.json()
    except (ValueError, RecursionError):
        raise RefusedError(400, "this is no JSON") from None
    if not isinstance(data, dict):
        raise RefusedError(400, "this is no JSON object")
    return data
