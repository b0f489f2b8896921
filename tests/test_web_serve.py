"""`img2pour serve`: what it prints, how it ends, what it says when it cannot start."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest

from img2pour.errors import SettingsError
from img2pour.web.door import Door
from img2pour.web.server import bind, link_of
from tests.page import sign

COMMAND = [sys.executable, "-m", "img2pour", "serve", "--no-browser"]


@contextmanager
def served(folder: Path, *options: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """Run the command on a free port; give the process and the link that it prints."""
    command = [*COMMAND, "--port", "0", "--data", str(folder), *options]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            yield process, process.stdout.readline().rpartition(" ")[2].strip()
        finally:
            process.kill()


def test_it_prints_its_link_serves_and_ends_on_ctrl_c(tmp_path: Path) -> None:
    with served(tmp_path) as (process, link):
        assert link.startswith("http://127.0.0.1:")
        with httpx.stream("GET", f"{link}api/jobs", timeout=60) as answer:
            assert answer.status_code == 200
        process.send_signal(signal.SIGINT)
        assert process.wait(60) == 0
    assert (tmp_path / "page.log").is_file()


def test_an_open_ear_does_not_keep_it_from_ending(tmp_path: Path) -> None:
    with served(tmp_path) as (process, link):
        job_id = httpx.post(f"{link}api/jobs", content=sign(), timeout=60).json()["id"]
        with httpx.stream("GET", f"{link}api/jobs/{job_id}/events", timeout=60) as answer:
            lines = answer.iter_lines()
            assert next(lines) == "retry: 1000"
            process.send_signal(signal.SIGTERM)
            for _ in lines:
                pass
        process.wait(60)


def test_a_server_that_is_killed_leaves_no_worker_behind_and_loses_nothing(tmp_path: Path) -> None:
    with served(tmp_path) as (process, link):
        job_id = httpx.post(f"{link}api/jobs", content=sign(), timeout=60).json()["id"]
        body = {"label": "width", "changes": [{"path": "size.width", "value": "7 in"}]}
        httpx.post(f"{link}api/jobs/{job_id}/edit", json=body, timeout=60).raise_for_status()
        children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
        assert len(children) == 2
        process.kill()
        process.wait()
    for _ in range(600):
        if not any(Path(f"/proc/{pid}").exists() for pid in children):
            break
        time.sleep(0.1)
    assert not any(Path(f"/proc/{pid}").exists() for pid in children)
    with served(tmp_path) as (process, link):
        state = httpx.get(f"{link}api/jobs/{job_id}", timeout=60).json()
        assert state["job"]["size"]["width"] == "7 in"
        assert state["undo_label"] == "width"


def test_a_port_that_is_taken_is_told_in_one_line(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        said = subprocess.run(
            [*COMMAND, "--port", port, "--data", str(tmp_path)], capture_output=True, text=True
        )
    assert said.returncode == 2
    assert said.stderr.splitlines() == [
        f"error: the page cannot be served at 127.0.0.1, port {port}: it is in use; give another "
        "--port"
    ]


def test_an_address_of_another_machine_is_refused() -> None:
    with pytest.raises(SettingsError, match="give an address of this machine"):
        bind("192.0.2.1", 0)  # RFC 5737: a documentation address


def test_a_folder_that_cannot_be_used_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    command = [*COMMAND, "--port", "0", "--data", str(tmp_path / "file")]
    said = subprocess.run(command, capture_output=True, text=True)
    assert said.returncode == 2
    assert said.stderr.startswith("error: the folder ")
    assert len(said.stderr.splitlines()) == 1


@pytest.mark.parametrize("missing", ["fastapi", "uvicorn", "platformdirs"])
def test_without_the_extra_it_says_what_to_install(missing: str) -> None:
    code = (
        f"import sys; sys.modules[{missing!r}] = None\n"
        "from img2pour.cli import main; main(['serve', '--no-browser'])"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert said.returncode == 2
    assert said.stderr == (
        f'error: the page needs {missing}; install it with: pip install "img2pour[web]"\n'
    )


@pytest.mark.parametrize(
    ("host", "link"),
    [
        ("127.0.0.1", "http://127.0.0.1:80/"),
        ("localhost", "http://127.0.0.1:80/"),
        ("::1", "http://[::1]:80/"),
    ],
)
def test_the_link_on_the_machine_itself(host: str, link: str) -> None:
    assert link_of(Door.at(host, 80)) == link


def test_the_link_beyond_the_machine_carries_the_token_once() -> None:
    door = Door("192.168.0.7", 80, "secret")
    assert link_of(door) == "http://192.168.0.7:80/?token=secret"
    assert link_of(Door("fe80::1", 80, "secret")) == "http://[fe80::1]:80/?token=secret"
    assert "secret" not in door.session
