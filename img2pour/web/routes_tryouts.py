"""Try-outs: settings kept beside the job, each with what it comes to."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from img2pour.job.build import try_job
from img2pour.job.model import Job
from img2pour.web.answers import body_json, desk_of, job_of, json_answer, need_size, on_disk
from img2pour.web.faults import RefusedError, refused_settings
from img2pour.web.routes_jobs import take
from img2pour.web.tryouts import MOST_TRYOUTS, Tryouts

routes = APIRouter(prefix="/api/jobs/{job_id}/tryouts")
LONGEST_NAME = 80


@routes.get("")
async def listing(request: Request, job_id: str) -> Response:
    """Return all try-outs, the oldest first; those that were cut off are worked out again."""
    desk, stored = desk_of(request), job_of(request, job_id)
    tryouts = Tryouts(stored.folder)
    rows = await on_disk(tryouts.listing)
    for row in rows:
        if not row["ready"] and not desk.is_trying(job_id, row["k"]):
            desk.work_out(stored, tryouts, row["k"], _kept_job(tryouts, row["k"]), row["name"])
        row["finished"] = f"/api/jobs/{job_id}/tryouts/{row['k']}.png" if row["ready"] else None
    return json_answer(rows)


@routes.post("")
async def keep(request: Request, job_id: str) -> Response:
    """Keep the present settings as a try-out, and work out what they come to."""
    desk, stored = desk_of(request), job_of(request, job_id)
    name = (await body_json(request)).get("name")
    if not isinstance(name, str) or not name.strip():
        raise RefusedError(400, "give the try-out a name")
    need_size(stored)
    tryouts = Tryouts(stored.folder)
    if len(await on_disk(tryouts.numbers)) >= MOST_TRYOUTS:
        raise RefusedError(409, f"there are {MOST_TRYOUTS} try-outs already; delete one first")
    number = await on_disk(lambda: tryouts.add(name.strip()[:LONGEST_NAME], stored.job))
    desk.work_out(stored, tryouts, number, stored.job, name)
    return json_answer({"k": number}, 201)


@routes.delete("/{k}")
async def delete(request: Request, job_id: str, k: int) -> Response:
    """Delete a try-out."""
    await on_disk(lambda: Tryouts(job_of(request, job_id).folder).delete(k))
    return Response(status_code=204)


@routes.get("/{k}.png")
async def picture(request: Request, job_id: str, k: int) -> Response:
    """Return the finished piece of a try-out."""
    body = await on_disk(lambda: Tryouts(job_of(request, job_id).folder).picture(k))
    return Response(body, media_type="image/png", headers={"cache-control": "no-cache"})


@routes.post("/{k}/take")
async def take_it(request: Request, job_id: str, k: int) -> Response:
    """Make a try-out's settings those of the job; undo brings the others back."""
    stored = job_of(request, job_id)
    tryouts = Tryouts(stored.folder)
    name = (await on_disk(lambda: tryouts.get(k)))["name"]
    return await take(request, stored, f"try-out {name}", lambda: (_kept_job(tryouts, k), ()))


def _kept_job(tryouts: Tryouts, k: int) -> Job:
    """Return the settings of a try-out.

    Raises
    ------
    RefusedError
        When there is none, or this program no longer knows a setting of it.
    """
    job, faults = try_job(tryouts.get(k)["job"])
    if job is None:
        raise refused_settings(faults)
    return job
