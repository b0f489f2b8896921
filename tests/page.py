"""A page's server for tests: the real application on a real port, in a thread of this process."""

from __future__ import annotations

import asyncio
import json
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import httpx
import uvicorn
from PIL import Image, ImageDraw

from img2pour.web.app import create_app
from img2pour.web.desk import Desk
from img2pour.web.door import Door
from img2pour.web.protocol import PageProtocol
from img2pour.web.server import PageServer, bind
from img2pour.web.settings import PageSettings

NAVY, SAND, RED = (11, 31, 58), (233, 216, 166), (174, 32, 18)


def sign(size: tuple[int, int] = (300, 200)) -> bytes:
    """Return a plain sign as PNG: a navy disc and a red bar on sand."""
    width, height = size
    picture = Image.new("RGB", size, SAND)
    draw = ImageDraw.Draw(picture)
    draw.ellipse((width * 0.1, height * 0.2, width * 0.5, height * 0.8), fill=NAVY)
    draw.rectangle((width * 0.6, height * 0.3, width * 0.9, height * 0.7), fill=RED)
    data = BytesIO()
    picture.save(data, "PNG")
    return data.getvalue()


@dataclass
class Page:
    """A running server and a client of it."""

    client: httpx.Client
    port: int
    door: Door
    desk: Desk
    loop: asyncio.AbstractEventLoop

    def upload(self, picture: bytes, name: str = "sign.png") -> str:
        """Return the id of a new job."""
        answer = self.client.post("/api/jobs", content=picture, headers={"X-File-Name": name})
        assert answer.status_code == 201, answer.text
        return str(answer.json()["id"])

    def edit(self, job_id: str, **changes: Any) -> httpx.Response:
        """Change settings: ``size__width="10 in"``."""
        wanted = [{"path": k.replace("__", "."), "value": v} for k, v in changes.items()]
        body = {"label": "a change", "changes": wanted}
        return self.client.post(f"/api/jobs/{job_id}/edit", json=body)

    def events(self, job_id: str) -> Iterator[tuple[str, dict[str, Any]]]:
        """Yield events as they come."""
        url = f"/api/jobs/{job_id}/events"
        with self.client.stream("GET", url, timeout=120) as answer:
            assert answer.headers["content-type"].startswith("text/event-stream")
            name, ends = "", time.monotonic() + 300
            for line in answer.iter_lines():
                assert time.monotonic() < ends, "the server only says that it is still there"
                if line.startswith("event: "):
                    name = line[7:]
                elif line.startswith("data: "):
                    yield name, json.loads(line[6:])

    def until_idle(self, job_id: str) -> list[tuple[str, dict[str, Any]]]:
        """Return all events up to the moment when nothing is left to do."""
        found = []
        for event in self.events(job_id):
            found.append(event)
            if event[0] == "idle":
                break
        return found

    def part(self, job_id: str, name: str) -> dict[str, Any]:
        """Return a part of the present revision, once it is there."""
        url = f"/api/jobs/{job_id}/parts/{name}"
        ends = time.monotonic() + 120
        while (answer := self.client.get(url)).status_code == 404 and time.monotonic() < ends:
            time.sleep(0.05)
        assert answer.status_code == 200, answer.text
        data: dict[str, Any] = answer.json()
        return data

    def output(self, job_id: str) -> list[str]:
        """Let all files be written; return their names."""
        assert self.client.post(f"/api/jobs/{job_id}/output").status_code == 202
        for name, data in self.events(job_id):
            assert name != "fault", data
            if name == "ready" and data["part"] == "output":
                break
        return [
            row["name"] for row in self.client.get(f"/api/jobs/{job_id}/output").json()["files"]
        ]


@contextmanager
def page_at(folder: Path, host: str = "127.0.0.1", **limits: Any) -> Iterator[Page]:
    """Run a server over a data folder."""
    bound = bind(host, 0)
    port = bound.getsockname()[1]
    settings = PageSettings(folder, **limits)
    door = Door.at(host, port)
    app = create_app(settings, door)
    config = uvicorn.Config(app, http=PageProtocol, ws="none", log_config=None, server_header=False)
    server = PageServer(config, app.state.desk.release)
    loops: list[asyncio.AbstractEventLoop] = []

    async def main() -> None:
        loops.append(asyncio.get_running_loop())
        await server.serve([bound])

    thread = threading.Thread(target=lambda: asyncio.run(main()))
    thread.start()
    try:
        while not server.started and thread.is_alive():
            time.sleep(0.01)
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=120) as client:
            yield Page(client, port, door, app.state.desk, loops[0])
    finally:
        server.should_exit = True
        thread.join()
        bound.close()
