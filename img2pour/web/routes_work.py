"""What is worked out of a job: events, parts, pictures, points, advice, a colour split in two."""

from __future__ import annotations

import json
import math
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import StreamingResponse

from img2pour.web.answers import body_json, desk_of, job_of, json_answer, need_size, on_disk
from img2pour.web.edits import Change
from img2pour.web.faults import RefusedError
from img2pour.web.parts import PICTURES, VIEWS, Part
from img2pour.web.routes_jobs import apply, need_revision
from img2pour.web.standing import Standing

routes = APIRouter(prefix="/api/jobs/{job_id}")
NOT_YET = "this is still being worked out"


@routes.get("/events")
async def events(request: Request, job_id: str) -> Response:
    """Tell of progress, finished parts and faults as they come."""
    desk, stored = desk_of(request), job_of(request, job_id)
    standing = desk.ensure(stored)
    stream = standing.listeners.stream(lambda: desk.standing_events(standing))
    return StreamingResponse(stream, media_type="text/event-stream")


@routes.get("/parts/{name}")
async def part(request: Request, job_id: str, name: str) -> Response:
    """Return a finished part."""
    if name not in VIEWS:
        raise RefusedError(404, "there is no such part")
    standing = desk_of(request).ensure(job_of(request, job_id))
    found = _found(standing, name, request)
    tag = f'"{found.revision}-{found.tag}"'
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers={"etag": tag})
    body = await on_disk(lambda: standing.parts.read(name))
    whole = f'{{"revision": {found.revision}, '.encode() + body[1:]
    headers = {"etag": tag, "cache-control": "no-cache"}
    return Response(whole, media_type="application/json", headers=headers)


def _found(standing: Standing, name: str, request: Request) -> Part:
    """Return the part of the revision that is asked for.

    Raises
    ------
    RefusedError
        409 for an old revision, 404 while it is worked out.
    """
    asked = request.query_params.get("revision")
    if asked is not None and asked != str(standing.revision):
        raise RefusedError(409, "the job was changed meanwhile; it is shown anew")
    found = standing.parts.get(name, standing.revision)
    if found is None:
        raise RefusedError(404, NOT_YET)
    return found


@routes.get("/{picture}.jpg")
async def picture(request: Request, job_id: str, picture: str) -> Response:
    """Return the upright input or the artwork as a small JPEG."""
    name = f"{picture}.jpg"
    if name not in PICTURES:
        raise RefusedError(404, "there is no such picture")
    standing = desk_of(request).ensure(job_of(request, job_id))
    _found(standing, "source", request)
    found = standing.parts.latest(name)
    if found is None:
        raise RefusedError(404, NOT_YET)
    headers = {"etag": f'"{found.tag}"', "cache-control": "no-cache"}
    if request.headers.get("if-none-match") == headers["etag"]:
        return Response(status_code=304, headers=headers)
    body = await on_disk(lambda: standing.parts.read(name))
    return Response(body, media_type="image/jpeg", headers=headers)


@routes.get("/at")
async def at(request: Request, job_id: str) -> Response:
    """Return what lies at a point of the board, drawn with y down."""
    desk, stored = desk_of(request), job_of(request, job_id)
    need_size(stored)
    order = {
        "op": "at",
        "revision": stored.state.revision,
        "x_mm": _number(request, "x_mm"),
        "y_mm": _number(request, "y_mm"),
        "stage": _stage(request),
    }
    said = await desk.ask_beside(stored, order)
    if said["kind"] != "end":
        raise RefusedError(422, str(said.get("message", NOT_YET)))
    if said["found"] is None:
        desk.redraw(stored)
        raise RefusedError(503, NOT_YET)
    return json_answer(said["found"])


def _number(request: Request, name: str) -> float:
    try:
        value = float(request.query_params.get(name, ""))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise RefusedError(400, f"{name} is no number")
    return value


def _stage(request: Request) -> int | None:
    text = request.query_params.get("stage", "")
    if text and not (text.isdecimal() and len(text) < 6):
        raise RefusedError(400, "stage is no number")
    return int(text) if text else None


@routes.post("/split")
async def split(request: Request, job_id: str) -> Response:
    """Make one colour the two that its pixels hold best."""
    desk, stored = desk_of(request), job_of(request, job_id)
    data = await body_json(request)
    colour = data.get("colour")
    if not isinstance(colour, str):
        raise RefusedError(400, "name the colour that is to be split")
    need_revision(stored, data.get("revision"))
    revision = stored.state.revision
    said = await desk.order("split", stored, colour=colour)
    if said["kind"] == "stopped":
        raise RefusedError(409, "the job was changed meanwhile; it is shown anew")
    if said["kind"] != "end":
        raise RefusedError(422, str(said["message"]))
    change = Change("colours.palette", said["palette"])
    return await apply(request, stored, f"split {colour}", [change], revision)


@routes.post("/advice/{number}")
async def advice(request: Request, job_id: str, number: int) -> Response:
    """Take a piece of advice of the verdict, counted from 0."""
    stored = job_of(request, job_id)
    standing = desk_of(request).ensure(stored)
    found = _found(standing, "check", request)
    told: list[dict[str, Any]] = json.loads(standing.parts.read("check"))["advice"]
    if not 0 <= number < len(told) or not told[number]["changes"]:
        raise RefusedError(404, "there is no such advice to take")
    changes = [Change(one["path"], one["value"]) for one in told[number]["changes"]]
    label = told[number]["button"] or "advice"
    return await apply(request, stored, label, changes, found.revision)
