"""Try-outs: settings kept beside the job, each with what it comes to."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from img2pour.job.build import try_job
from img2pour.web.answers import body_json, desk_of, job_of, json_answer, on_disk
from img2pour.web.faults import RefusedError, refused_settings
from img2pour.web.routes_jobs import take
from img2pour.web.tryouts import MOST_TRYOUTS, Tryouts

routes = APIRouter(prefix="/api/jobs/{job_id}/tryouts")
LONGEST_NAME = 80


@routes.get("")
async def listing(request: Request, job_id: str) -> Response:
    """Return all try-outs, the oldest first."""
    tryouts = Tryouts(job_of(request, job_id).folder)
    rows = await on_disk(tryouts.listing)
    for row in rows:
        row["finished"] = f"/api/jobs/{job_id}/tryouts/{row['k']}.png" if row["ready"] else None
    return json_answer(rows)


@routes.post("")
async def keep(request: Request, job_id: str) -> Response:
    """Keep the present settings as a try-out, and work out what they come to."""
    desk, stored = desk_of(request), job_of(request, job_id)
    name = (await body_json(request)).get("name")
    if not isinstance(name, str) or not name.strip():
        raise RefusedError(400, "give the try-out a name")
    stored.job.need_size()
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
    kept = await on_disk(lambda: Tryouts(stored.folder).get(k))
    job, faults = try_job(kept["job"])
    if job is None:
        raise refused_settings(faults)
    return await take(request, stored, f"try-out {kept['name']}", lambda: (job, ()))
