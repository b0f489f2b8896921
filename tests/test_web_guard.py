"""What stands before the page: names, other sites, tokens, large and slow bodies, paths."""

from __future__ import annotations

import socket
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from img2pour.web.door import Door, is_loopback
from img2pour.web.server import link_of
from tests.page import Page, page_at, sign


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    folder = tmp_path_factory.mktemp("guard")
    with page_at(folder, max_mb=0.5, cap_bytes=900_000, chunk_s=0.4, body_s=1.5) as running:
        yield running


@pytest.fixture(scope="module")
def job_id(page: Page) -> str:
    return page.upload(sign())


def spoken(port: int, request: bytes, patience_s: float = 20.0) -> bytes:
    """Return everything that the server answers to raw bytes."""
    with socket.create_connection(("127.0.0.1", port), timeout=patience_s) as line:
        line.sendall(request)
        parts = []
        try:
            while part := line.recv(65536):
                parts.append(part)
        except ConnectionError:
            pass
        return b"".join(parts)


def status_of(answer: bytes) -> int:
    """Return the status of a raw answer."""
    return int(answer.split(b" ", 2)[1])


HOSTS = [
    "evil.example",
    "evil.example:{port}",
    "127.0.0.1:1",
    "127.0.0.1",
    "localhost.evil:{port}",
    "[::1].evil:{port}",
    "",
    "127.0.0.1:{port}:{port}",
    "0.0.0.0:{port}",
    "192.168.0.7:{port}",
]


@pytest.mark.parametrize("host", HOSTS)
@pytest.mark.parametrize("path", ["/", "/api/jobs", "/assets/index.js", "/api/jobs/x/events"])
def test_a_foreign_host_is_refused_on_every_request(page: Page, host: str, path: str) -> None:
    name = host.format(port=page.port)
    request = f"GET {path} HTTP/1.1\r\nHost: {name}\r\nConnection: close\r\n\r\n"
    assert status_of(spoken(page.port, request.encode())) == 400


def test_no_host_and_two_hosts_are_refused(page: Page) -> None:
    own = f"Host: 127.0.0.1:{page.port}\r\n"
    for hosts in ("", own + "Host: evil.example\r\n"):
        request = f"GET /api/jobs HTTP/1.1\r\n{hosts}Connection: close\r\n\r\n"
        assert status_of(spoken(page.port, request.encode())) == 400


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "LOCALHOST", "[::1]"])
def test_the_own_names_are_known(page: Page, host: str) -> None:
    answer = page.client.get("/api/jobs", headers={"host": f"{host}:{page.port}"})
    assert answer.status_code == 200


ORIGINS = ["http://evil.example", "null", "https://127.0.0.1:{port}", "http://127.0.0.1:1",
           "http://localhost:{port}"]  # fmt: skip


@pytest.mark.parametrize("origin", ORIGINS)
def test_a_foreign_origin_is_refused_on_every_method(page: Page, job_id: str, origin: str) -> None:
    headers = {"origin": origin.format(port=page.port)}
    for method, path in (
        ("GET", "/api/jobs"),
        ("GET", f"/api/jobs/{job_id}/events"),
        ("POST", f"/api/jobs/{job_id}/undo"),
        ("DELETE", f"/api/jobs/{job_id}"),
        ("OPTIONS", "/api/jobs"),
    ):
        answer = page.client.request(method, path, headers=headers)
        assert answer.status_code == 403, (method, path)
        assert "access-control-allow-origin" not in answer.headers
    assert page.client.get(f"/api/jobs/{job_id}").status_code == 200


def test_the_own_origin_may_ask(page: Page) -> None:
    headers = {"origin": f"http://127.0.0.1:{page.port}"}
    assert page.client.get("/api/jobs", headers=headers).status_code == 200


def test_other_sites_may_only_link_to_the_page(page: Page) -> None:
    embedded = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}
    followed = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    assert page.client.get("/api/jobs", headers=embedded).status_code == 403
    assert page.client.get("/api/jobs", headers=followed).status_code == 403
    assert page.client.get("/", headers=embedded).status_code == 403
    assert page.client.get("/", headers=followed).status_code != 403


def test_every_answer_carries_the_security_headers(page: Page, job_id: str) -> None:
    for path in ("/", "/api/jobs", "/nowhere", f"/api/jobs/{job_id}", "/api/jobs/none"):
        headers = page.client.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["x-frame-options"] == "DENY"
        assert "server" not in headers


def test_a_body_beyond_the_limit_is_refused_by_its_stated_size(page: Page) -> None:
    answer = page.client.post("/api/jobs", content=b"x" * 500_001)
    assert answer.status_code == 413
    assert "larger" in answer.json()["message"]
    head = (
        f"POST /api/jobs HTTP/1.1\r\nHost: 127.0.0.1:{page.port}\r\n"
        "Content-Length: 999999999999\r\n\r\n"
    )
    assert status_of(spoken(page.port, head.encode())) == 413
    assert not list(page.desk.store.folder.glob(".in-*"))


def test_a_body_without_a_stated_size_is_cut_off_while_it_is_read(page: Page) -> None:
    head = (
        f"POST /api/jobs HTTP/1.1\r\nHost: 127.0.0.1:{page.port}\r\n"
        "Transfer-Encoding: chunked\r\n\r\n"
    )
    full = b"%x\r\n%s\r\n" % (20_000, b"x" * 20_000)
    one_too_many = full * 25 + b"1\r\nx\r\n"  # and no end: more could follow
    assert status_of(spoken(page.port, head.encode() + one_too_many)) == 413
    assert not list(page.desk.store.folder.glob(".in-*"))


def test_a_small_request_may_not_carry_a_large_body(page: Page, job_id: str) -> None:
    answer = page.client.put(f"/api/jobs/{job_id}/job.toml", content=b"#" * 2_000_001)
    assert answer.status_code == 413


def test_a_slow_body_times_out(page: Page) -> None:
    head = f"POST /api/jobs HTTP/1.1\r\nHost: 127.0.0.1:{page.port}\r\nContent-Length: 1000\r\n\r\n"
    began = time.monotonic()
    assert status_of(spoken(page.port, head.encode() + b"few bytes")) == 408
    assert time.monotonic() - began < 15  # far below the patience of the line
    assert not list(page.desk.store.folder.glob(".in-*"))


def test_a_body_that_drips_times_out_as_a_whole(page: Page) -> None:
    head = (
        f"POST /api/jobs HTTP/1.1\r\nHost: 127.0.0.1:{page.port}\r\nContent-Length: 100000\r\n\r\n"
    )
    with socket.create_connection(("127.0.0.1", page.port), timeout=20) as line:
        line.sendall(head.encode())
        line.settimeout(0.1)
        answer = b""
        for _ in range(150):
            try:
                line.sendall(b"x")
                answer = line.recv(4096)
                break
            except TimeoutError:
                continue
            except ConnectionError:
                break
    assert b"408" in answer[:20]


@pytest.mark.parametrize("start", [b"", b"GET / HTTP/1.1\r\nHos"])
def test_half_a_head_is_not_waited_for(
    page: Page, start: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("img2pour.web.protocol.HEAD_S", 0.3)
    assert spoken(page.port, start) == b""  # the line is closed, well within the patience


TRICKS = [
    "/../../etc/passwd",
    "/..%2f..%2fetc/passwd",
    "/assets/../../app.py",
    "/%2e%2e/app.py",
    "/assets/%2e%2e/%2e%2e/settings.py",
    "/assets/..%5c..%5capp.py",
    "//etc/passwd",
]


@pytest.mark.parametrize("path", TRICKS)
def test_paths_lead_nowhere(page: Page, path: str) -> None:
    request = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{page.port}\r\nConnection: close\r\n\r\n"
    assert status_of(spoken(page.port, request.encode())) == 404


def test_job_ids_and_file_names_are_no_paths(page: Page, job_id: str) -> None:
    for wrong in ("..", "%2e%2e", "../jobs", f"{job_id}%2f..", "A" * 16, f"{job_id}x", "."):
        request = (
            f"GET /api/jobs/{wrong}/parts/design HTTP/1.1\r\nHost: 127.0.0.1:{page.port}\r\n"
            "Connection: close\r\n\r\n"
        )
        assert status_of(spoken(page.port, request.encode())) == 404
    page.edit(job_id, size__width="10 in")
    page.output(job_id)
    for wrong in ("../state.json", "..%2fstate.json", "%2e%2e/picture", "/etc/passwd", ".img2pour"):
        request = (
            f"GET /api/jobs/{job_id}/output/{wrong} HTTP/1.1\r\n"
            f"Host: 127.0.0.1:{page.port}\r\nConnection: close\r\n\r\n"
        )
        assert status_of(spoken(page.port, request.encode())) == 404
    for wrong in ("..%2fstate", "state", "index"):
        assert page.client.get(f"/api/jobs/{job_id}/parts/{wrong}").status_code == 404


NAMES = [
    ("../../evil.png", "evil.png"),
    ("..\\..\\evil.png", "evil.png"),
    ("/etc/passwd", "passwd"),
    ("C:\\Windows\\a.png", "a.png"),
    ("%2e%2e%2fevil.png", "evil.png"),
    ("a%00b%0ac.png", "abc.png"),
    ("%ff%fe", "picture"),
    ("", "picture"),
    ("..", "picture"),
    ("%E6%B8%AF.png", "港.png"),
]


@pytest.mark.parametrize(("given", "kept"), NAMES)
def test_a_visitors_file_name_is_only_a_label(
    page: Page, given: str, kept: str, tmp_path: Path
) -> None:
    job_id = page.upload(sign((40, 30)), given)
    name = page.client.get(f"/api/jobs/{job_id}").json()["picture"]["name"]
    assert name == kept or (given == "%ff%fe" and "/" not in name)
    folder = page.desk.store.folder / job_id
    assert {path.name for path in folder.iterdir()} <= {"picture", "state.json", "steps", "parts"}
    page.client.delete(f"/api/jobs/{job_id}")


def test_files_of_the_machine_are_not_read_by_name(page: Page, job_id: str) -> None:
    text = {"words": "Hi", "font": "/etc/a.ttf", "height": "1 in", "colour": "#0b1f3a"}
    for change in (
        {"artwork__file": "/etc/passwd"},
        {"bits__table": "/etc/passwd"},
        {"mixing__table": "../x"},
        {"art": [{"file": "/etc/passwd", "width": "1 in"}]},
        {"text": [text]},
    ):
        answer = page.edit(job_id, **change)
        assert answer.status_code == 422
        assert "does not read files" in answer.json()["message"]


def test_the_cap_refuses_and_names_what_could_go(page: Page, job_id: str) -> None:
    kept = page.client.get("/api/jobs").json()
    assert kept["cap_bytes"] == 900_000
    ballast = page.desk.store.folder / job_id / "ballast"
    ballast.write_bytes(b"x" * 900_000)
    answer = page.client.post("/api/jobs", content=sign())
    assert answer.status_code == 413
    assert "“sign”" in answer.json()["message"]
    ballast.unlink()
    assert page.client.get(f"/api/jobs/{job_id}").status_code == 200


def test_bodies_that_are_no_changes_are_refused(page: Page, job_id: str) -> None:
    url = f"/api/jobs/{job_id}/edit"
    plain = page.client.post(url, content=b"{}", headers={"content-type": "text/plain"})
    assert plain.status_code == 415  # what a form of another site could send
    headers = {"content-type": "application/json"}
    for body in (b"{", b"[]", b"{}", b'{"label": "x", "changes": []}', b"[" * 100_000,
                 b'{"label": "x", "changes": [{"path": 1, "value": 2}]}'):  # fmt: skip
        assert page.client.post(url, content=body, headers=headers).status_code == 400
    nowhere = {"label": "x", "changes": [{"path": "size.depth", "value": 1}]}
    assert page.client.post(url, json=nowhere).status_code == 422


def test_errors_are_told_in_words_and_traces_stay_in_the_log(page: Page, job_id: str) -> None:
    state = page.desk.store.folder / job_id / "state.json"
    kept = state.read_bytes()
    page.desk.store._open.pop(job_id)
    state.write_text("{")
    answer = page.client.get(f"/api/jobs/{job_id}")
    state.write_bytes(kept)
    assert answer.status_code == 409
    assert answer.json() == {"message": "this job cannot be read from disk; delete it"}


def test_beyond_the_machine_a_token_is_asked_for(tmp_path: Path) -> None:
    with page_at(tmp_path, host="0.0.0.0") as page:
        token = page.door.token
        assert token is not None
        assert len(token) >= 32
        assert link_of(page.door).endswith(f":{page.port}/?token={token}")
        client = httpx.Client(base_url=f"http://127.0.0.1:{page.port}")
        with client:
            for path in ("/", "/api/jobs", f"/api/jobs?token={token}", "/?token=wrong", "/?token="):
                assert client.get(path).status_code == 403
            assert client.post(f"/?token={token}").status_code == 403
            entered = client.get(f"/?token={token}")
            assert (entered.status_code, entered.headers["location"]) == (303, "/")
            cookie = entered.headers["set-cookie"]
            assert "HttpOnly" in cookie
            assert "SameSite=Strict" in cookie
            assert token not in cookie
            assert client.get("/api/jobs").status_code == 200
            client.cookies.clear()
            wrong = {"cookie": f"{page.door.cookie}=x{page.door.session}"}
            assert client.get("/api/jobs", headers=wrong).status_code == 403
        logs = "".join(path.read_text(errors="replace") for path in tmp_path.glob("*.log"))
        assert token not in logs


@pytest.mark.parametrize(
    ("host", "name", "is_known"),
    [
        ("127.0.0.1", "127.0.0.1:80", True),
        ("127.0.0.1", "127.0.0.1", True),
        ("127.0.0.1", "192.168.0.7:80", False),
        ("0.0.0.0", "192.168.0.7:80", True),
        ("0.0.0.0", "[fe80::1]:80", True),
        ("0.0.0.0", "evil.example:80", False),
        ("192.168.0.7", "192.168.0.7:80", True),
        ("192.168.0.7", "192.168.0.8:80", False),
        ("192.168.0.7", "192.168.0.7:81", False),
    ],
)
def test_which_hosts_are_known(host: str, name: str, is_known: bool) -> None:
    assert Door.at(host, 80).knows_host(name) is is_known


def test_what_is_the_machine_itself() -> None:
    # RFC 5735 and RFC 4291: 127.0.0.0/8 and ::1 are loopback.
    assert all(map(is_loopback, ("127.0.0.1", "127.9.9.9", "::1", "localhost")))
    assert not any(map(is_loopback, ("0.0.0.0", "192.168.0.7", "example.org", "::")))
