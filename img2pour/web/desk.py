"""What is worked on, for whom, and what comes next.

Each job has one place in the queue for what the page shows of it (draw, then plan, then check);
a newer change takes that place and calls the older work back. What somebody waits for at the
screen comes before what may take its time.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
from collections.abc import Callable
from itertools import count
from typing import Any

from img2pour.job.model import Job
from img2pour.web.events import Event
from img2pour.web.faults import BROKEN_WORDS, RefusedError
from img2pour.web.parts import Parts
from img2pour.web.pool import Pool, TooLongError, WorkerDiedError
from img2pour.web.settings import PageSettings
from img2pour.web.standing import PHASE_WORDS, SHOWN, Standing, Work
from img2pour.web.store import Store, StoredJob
from img2pour.web.tryouts import Tryouts

log = logging.getLogger("img2pour.web")

MOST_ORDERS = 400
A_MOMENT_S = 0.02
DIED_WORDS = (
    "the work on this picture ended all of a sudden, perhaps for a fault in the file or for want "
    "of memory; undo the last change, or save the picture anew (as PNG) and drop that in"
)


class Desk:
    """The queue of all jobs before one worker.

    Parameters
    ----------
    store : Store
    pool : Pool
    settings : PageSettings
    """

    def __init__(self, store: Store, pool: Pool, settings: PageSettings) -> None:
        self.store, self.pool, self.settings = store, pool, settings
        self._standings: dict[str, Standing] = {}
        self._waiting: list[Work] = []
        self._running: Work | None = None
        self._more = asyncio.Event()
        self._numbers = count()
        self._task: asyncio.Task[None] | None = None
        self._locks: dict[str, asyncio.Lock] = {}
        self.defaults = Job().model_dump()

    async def start(self) -> None:
        """Begin to work."""
        await self.pool.start()
        self._task = asyncio.create_task(self._work_on())

    async def close(self) -> None:
        """Stop working; listeners are let go."""
        for standing in self._standings.values():
            standing.listeners.close()
        if self._task is not None:
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._task
        for work in self._waiting:
            if work.answered is not None and not work.answered.done():
                work.answered.cancel()
        await self.pool.close()

    def release(self) -> None:
        """Let all listeners go, so that the server can end."""
        for standing in self._standings.values():
            standing.listeners.close()

    def standing(self, stored: StoredJob) -> Standing:
        """Return how far the work on a job has come."""
        if stored.id not in self._standings:
            self._standings[stored.id] = Standing(stored, Parts(stored.folder / "parts"))
        return self._standings[stored.id]

    def ensure(self, stored: StoredJob) -> Standing:
        """Begin what is still to be worked out of a job."""
        standing = self.standing(stored)
        missing = standing.missing()
        if missing and not self._is_on_it(stored.id):
            self._queue(missing[0], stored)
        return standing

    def changed(self, stored: StoredJob) -> Standing:
        """Call back what is outdated, and work out the job as it is now.

        Files that somebody waits for are written of the job as it is now.
        """
        standing = self.standing(stored)
        standing.faults = {}
        is_writing = self.is_writing(stored.id)
        self._call_back(stored.id)
        self.ensure(stored)
        if is_writing and stored.job.has_size:
            self.write_out(stored)
        return standing

    def write_out(self, stored: StoredJob) -> None:
        """Write every file of the present revision, unless they are there or on their way."""
        standing = self.standing(stored)
        if standing.parts.get("output", standing.revision) is None and not self.is_writing(
            stored.id
        ):
            self.order("output", stored, out=str(stored.folder / "output"))

    async def forget(self, job_id: str) -> None:
        """Stop all work on a job that is going to be deleted, and wait until it has ended."""
        self._call_back(job_id, tryouts=True)
        self._locks.pop(job_id, None)
        standing = self._standings.pop(job_id, None)
        if standing is not None:
            standing.listeners.close()
        while self._running is not None and self._running.stored.id == job_id:
            await asyncio.sleep(A_MOMENT_S)

    def changing(self, job_id: str) -> asyncio.Lock:
        """Return the lock that lets one change at a time be made to a job."""
        return self._locks.setdefault(job_id, asyncio.Lock())

    def is_working(self, job_id: str) -> bool:
        """Tell whether something of a job is waiting or running."""
        return any(work.stored.id == job_id for work in self._all())

    def is_writing(self, job_id: str) -> bool:
        """Tell whether the output of a job is waiting or being written."""
        return any(
            work.stored.id == job_id and work.kind == "output" and not work.is_called_back
            for work in self._all()
        )

    def is_trying(self, job_id: str, number: int) -> bool:
        """Tell whether a try-out is waiting or being worked out."""
        return any(
            work.stored.id == job_id and work.order.get("number") == number for work in self._all()
        )

    def redraw(self, stored: StoredJob) -> None:
        """Work out a job again although its parts are there: a new worker knows nothing of it."""
        if stored.job.has_size and not self._is_on_it(stored.id):
            self._queue("draw", stored)
            self._queue("plan", stored)

    def order(
        self,
        kind: str,
        stored: StoredJob,
        heard: Callable[[dict[str, Any], bytes], None] | None = None,
        **more: Any,
    ) -> asyncio.Future[dict[str, Any]]:
        """Queue an order beside what is shown; return its last answer as a promise."""
        answered: asyncio.Future[dict[str, Any]] = asyncio.get_running_loop().create_future()
        work = self._queue(kind, stored, **more)
        work.answered, work.heard = answered, heard
        return answered

    def work_out(
        self, stored: StoredJob, tryouts: Tryouts, number: int, job: Job, name: str
    ) -> None:
        """Work out what a try-out comes to, when nothing more urgent is left."""
        pictures: list[bytes] = []
        title = stored.state.title
        answered = self.order(
            "tryout",
            stored,
            lambda head, body: pictures.append(body),
            job=job,
            name=name,
            title=title,
            number=number,
        )

        def finish(promise: asyncio.Future[dict[str, Any]]) -> None:
            if promise.cancelled() or promise.result()["kind"] == "stopped":
                return
            said = promise.result()
            found = {"rows": said.get("rows"), "hexes": said.get("hexes", [])}
            found["fault"] = said.get("message")
            tryouts.finish(number, found, pictures[0] if pictures else None)
            self.standing(stored).listeners.tell(
                "ready", revision=stored.state.revision, part="tryouts"
            )

        answered.add_done_callback(finish)

    async def ask_beside(self, stored: StoredJob, order: dict[str, Any]) -> dict[str, Any]:
        """Ask the worker something that it answers beside its work.

        Raises
        ------
        RefusedError
            When it ends meanwhile.
        """
        try:
            worker = await self.pool.worker()
            return await worker.ask({**order, "id": stored.id})
        except (WorkerDiedError, TooLongError):
            raise RefusedError(503, "it is being worked out again; ask again in a moment") from None

    def standing_events(self, standing: Standing) -> list[Event]:
        """Return what a new listener is told first."""
        revision = standing.revision
        told: list[Event] = [
            ("ready", {"revision": revision, "part": part})
            for part in standing.parts.ready(revision)
        ]
        if standing.parts.get("output", revision) is not None:
            told.append(("ready", {"revision": revision, "part": "output"}))
        for message in standing.faults.values():
            told.append(("fault", {"revision": revision, "message": message}))
        if self._is_on_it(standing.stored.id):
            first = {"revision": revision, "phase": "waiting", "step": "", "share": 0.0}
            told.append(("progress", first))
        else:
            told.append(("idle", {"revision": revision}))
        return told

    def _all(self) -> list[Work]:
        return self._waiting + ([self._running] if self._running is not None else [])

    def _is_on_it(self, job_id: str) -> bool:
        """Tell whether what is shown of a job is waiting or running."""
        return any(
            work.stored.id == job_id and work.kind in SHOWN and not work.is_called_back
            for work in self._all()
        )

    def _queue(self, kind: str, stored: StoredJob, **more: Any) -> Work:
        if len(self._waiting) >= MOST_ORDERS:
            raise RefusedError(503, "too much is being worked out; try again in a minute")
        job = more.pop("job", stored.job)
        state = stored.state
        order = {
            "op": kind,
            "id": stored.id,
            "revision": state.revision,
            "picture": str(stored.picture),
            "sha256": state.picture.sha256,
            "folder": str(stored.folder),
            "job": job.model_dump(),
            "known": self.standing(stored).parts.source_key,
            **more,
        }
        work = Work(kind, stored, state.revision, order, next(self._numbers))
        self._waiting.append(work)
        self._more.set()
        return work

    def _call_back(self, job_id: str, tryouts: bool = False) -> None:
        """Drop what waits for a job and ask what runs for it to stop; try-outs go on."""
        for work in self._all():
            if work.stored.id != job_id or (work.kind == "tryout" and not tryouts):
                continue
            work.is_called_back = True
            if work in self._waiting:
                self._waiting.remove(work)
                if work.answered is not None and not work.answered.done():
                    work.answered.set_result({"kind": "stopped"})
            elif work.worker is not None and work.token is not None:
                work.worker.stop(work.token)

    async def _work_on(self) -> None:
        """Do one order after the other, for ever."""
        while True:
            while not self._waiting:
                self._more.clear()
                await self._more.wait()
            work = min(self._waiting, key=lambda one: one.rank)
            self._waiting.remove(work)
            self._running = work
            said: dict[str, Any] = {"kind": "broken"}
            try:
                said = await self._do(work)
            except Exception:
                log.exception("an order could not be done")
            finally:
                self._running = None
            try:
                self._settle(work, said)
            except Exception:
                log.exception("an answer could not be kept")

    async def _do(self, work: Work) -> dict[str, Any]:
        """Give one order to the worker and return its last answer."""
        try:
            worker = await self.pool.worker()

            def begun(token: int) -> None:
                work.worker, work.token = worker, token
                if work.is_called_back:
                    worker.stop(token)

            if work.is_called_back:
                return {"kind": "stopped"}
            return await worker.ask(
                work.order, lambda head, body: self._hear(work, head, body), begun
            )
        except WorkerDiedError:
            kind = "stopped" if work.is_called_back else "fault"
            return {"kind": kind, "message": DIED_WORDS}
        except TooLongError:
            limit = f"{self.settings.seconds:.0f} s"
            words = f"this took longer than {limit} and was stopped; make the picture smaller"
            return {"kind": "fault", "message": words}

    def _hear(self, work: Work, head: dict[str, Any], body: bytes) -> None:
        """Take what the worker says on the way."""
        if work.is_called_back:
            return
        if work.heard is not None and head["kind"] == "part":
            work.heard(head, body)
            return
        standing = self.standing(work.stored)
        if head["kind"] == "progress":
            standing.listeners.tell(
                "progress",
                revision=work.revision,
                phase=PHASE_WORDS[work.kind],
                step=head["step"],
                share=head["share"],
            )
        elif head["kind"] == "same":
            standing.parts.still(head["part"], work.revision)
            standing.listeners.tell("ready", revision=work.revision, part=head["part"])
        elif head["kind"] == "part":
            standing.parts.put(head["part"], work.revision, body, head["key"])
            if not head["part"].endswith(".jpg"):
                standing.listeners.tell("ready", revision=work.revision, part=head["part"])

    def _settle(self, work: Work, said: dict[str, Any]) -> None:
        """Take the last answer of an order, and see what comes next."""
        if said["kind"] == "broken":
            log.error("%s: %s", work.kind, said.get("trace", "no trace"))
            said = {"kind": "fault", "message": BROKEN_WORDS}
        if work.answered is not None and not work.answered.done():
            work.answered.set_result(said)
        if work.is_called_back or work.stored.id not in self._standings:
            return
        standing = self.standing(work.stored)
        standing.ran += said.get("ran", [])
        if work.kind in SHOWN:
            if said["kind"] == "fault":
                standing.faults[work.kind] = said["message"]
                self._tell_fault(standing, work, said)
            self.ensure(work.stored)
        elif work.kind == "output" and said["kind"] == "end":
            standing.parts.put("output", work.revision, json.dumps(said["files"]).encode())
            standing.listeners.tell("ready", revision=work.revision, part="output")
        elif said["kind"] == "fault":
            self._tell_fault(standing, work, said)
        if not self.is_working(work.stored.id):
            standing.listeners.tell("idle", revision=standing.revision)

    def _tell_fault(self, standing: Standing, work: Work, said: dict[str, Any]) -> None:
        """Tell why something could not be done, and by which setting."""
        standing.listeners.tell(
            "fault",
            revision=work.revision,
            message=said["message"],
            phase=PHASE_WORDS[work.kind],
            setting=said.get("name", ""),
        )
