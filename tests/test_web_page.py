"""The whole way through the page's server: picture, settings, events, files, restart."""

from __future__ import annotations

import asyncio
import os
import signal
import zipfile
import zlib
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from img2pour.cli import main
from img2pour.job.reading import read_job
from tests.page import Page, page_at, sign


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    with page_at(tmp_path_factory.mktemp("page")) as running:
        yield running


@pytest.fixture(scope="module")
def sized(page: Page) -> str:
    job_id = page.upload(sign())
    assert page.edit(job_id, size__width="10 in").status_code == 200
    page.until_idle(job_id)
    return job_id


def test_a_picture_is_shown_before_its_size_is_known(page: Page) -> None:
    job_id = page.upload(sign(), "harbour%20sign.png")
    events = page.until_idle(job_id)
    assert {data["part"] for name, data in events if name == "ready"} >= {"source", "preview"}
    preview = page.part(job_id, "preview")
    assert preview["board"] is None
    assert preview["viewbox"] == [0, 0, 300, 200]
    roles = {colour["hex"]: colour["role"] for colour in preview["colours"]}
    assert roles == {"#e9d8a6": "wood", "#0b1f3a": "pour", "#ae2012": "pour"}
    state = page.client.get(f"/api/jobs/{job_id}").json()
    assert state["title"] == "harbour sign"
    assert state["has_size"] is False
    source = page.part(job_id, "source")
    assert (source["width_px"], source["height_px"]) == (300, 200)
    for name in ("source.jpg", "artwork.jpg"):
        answer = page.client.get(f"/api/jobs/{job_id}/{name}")
        assert answer.headers["content-type"] == "image/jpeg"
        assert answer.content.startswith(b"\xff\xd8\xff")


def test_the_design_is_drawn_in_board_millimetres(page: Page, sized: str) -> None:
    design = page.part(sized, "design")
    assert design["revision"] == 2
    assert design["board"]["width_mm"] == pytest.approx(254.0)
    assert design["board"]["text"] == "10 in x 6 43/64 in"
    disc = next(one for one in design["colours"] if one["hex"] == "#0b1f3a")
    # The ellipse covers pi / 4 of a box of 0.4 x 0.6 of the board.
    assert disc["area_percent"] == pytest.approx(100 * 0.7854 * 0.4 * 0.6, rel=0.02)
    # 1 in2 x 1/8 in = 0.125 cubic inches, 16.387064 ml each (definition of the inch).
    area_mm2 = 0.7854 * 0.4 * 0.6 * 254 * 254 * 2 / 3
    assert disc["volume_ml"] == pytest.approx(area_mm2 * 3.175 / 1000, rel=0.03)
    faces = [face for face in design["faces"] if face["colour"] == disc["index"]]
    assert len(faces) == 1
    assert "A" in faces[0]["d"]


def test_plan_and_check_follow(page: Page, sized: str) -> None:
    plan, check = page.part(sized, "plan"), page.part(sized, "check")
    assert plan["stages"][0]["kind"] == "seal"
    poured = {pocket["pour"] for stage in plan["stages"] for pocket in stage["pockets"]}
    assert len(poured) == 3
    assert plan["days"] == plan["schedule"]["days"]
    assert plan["days_alone"] > plan["days"]  # the disc and the bar share a stage
    assert check["word"] == "carvable"
    assert page.part(sized, "work")["rows"]


def test_what_lies_at_a_point(page: Page, sized: str) -> None:
    height_mm = 254 * 2 / 3
    url = f"/api/jobs/{sized}/at"
    found = page.client.get(url, params={"x_mm": 254 * 0.3, "y_mm": height_mm * 0.5}).json()
    assert found["hex"] == "#0b1f3a"
    assert found["upright_px"] == pytest.approx([90, 100], abs=0.01)
    assert found["pocket"]["depth_mm"] > 3
    assert found["pocket"]["ml"] == pytest.approx(found["fill"]["ml"])
    beside = page.client.get(url, params={"x_mm": 2, "y_mm": 2}).json()
    assert (beside["role"], beside["pocket"]) == ("wood", None)
    assert page.client.get(url, params={"x_mm": "nan", "y_mm": 1}).status_code == 400


def test_wrong_settings_are_told_at_their_fields_and_change_nothing(page: Page, sized: str) -> None:
    before = page.client.get(f"/api/jobs/{sized}").json()
    answer = page.edit(sized, carving__depth="3 parsecs", pours__gap="-1 mm")
    assert answer.status_code == 422
    assert {fault["path"] for fault in answer.json()["faults"]} == {"carving.depth", "pours.gap"}
    assert page.client.get(f"/api/jobs/{sized}").json()["revision"] == before["revision"]


def test_undo_and_redo_without_limit(page: Page) -> None:
    job_id = page.upload(sign())
    widths = [f"{number} mm" for number in range(200, 230)]
    for width in widths:
        state = page.edit(job_id, size__width=width).json()
    for width in [*reversed(widths[:-1]), None]:
        state = page.client.post(f"/api/jobs/{job_id}/undo").json()
        assert state["job"]["size"]["width"] == width
    assert state["can_undo"] is False
    assert page.client.post(f"/api/jobs/{job_id}/undo").status_code == 409
    for width in widths:
        state = page.client.post(f"/api/jobs/{job_id}/redo").json()
        assert state["job"]["size"]["width"] == width
    assert state["can_redo"] is False
    assert state["revision"] == 1 + 3 * len(widths)
    assert page.client.delete(f"/api/jobs/{job_id}").status_code == 204


def test_an_old_revision_is_refused(page: Page, sized: str) -> None:
    body = {"revision": 1, "label": "late", "changes": [{"path": "seal.kind", "value": "flood"}]}
    assert page.client.post(f"/api/jobs/{sized}/edit", json=body).status_code == 409
    assert page.client.get(f"/api/jobs/{sized}/parts/design?revision=1").status_code == 409


def test_a_part_that_is_known_is_not_sent_again(page: Page, sized: str) -> None:
    url = f"/api/jobs/{sized}/parts/design"
    tag = page.client.get(url).headers["etag"]
    again = page.client.get(url, headers={"if-none-match": tag})
    assert (again.status_code, again.content) == (304, b"")


def test_the_files_are_those_of_the_command_line(page: Page, sized: str, tmp_path: Path) -> None:
    names = page.output(sized)
    url = f"/api/jobs/{sized}"
    job = page.client.get(f"{url}/job.toml")
    assert job.headers["content-disposition"].startswith("attachment")
    (tmp_path / "job.toml").write_bytes(job.content)
    (tmp_path / "sign.png").write_bytes(sign())
    out = tmp_path / "out"
    done = CliRunner().invoke(main, ["run", str(tmp_path / "job.toml"), "-o", str(out), "-q"])
    assert done.exit_code == 0, done.output
    drawings = sorted(path.relative_to(out).as_posix() for path in out.rglob("*.dxf"))
    assert len(drawings) >= 4
    for name in drawings:
        assert page.client.get(f"{url}/output/{name}").content == (out / name).read_bytes()
    assert {"board.glb", "report.pdf", "report.json"} <= set(names)
    zipped = zipfile.ZipFile(BytesIO(page.client.get(f"{url}/output.zip").content))
    assert set(zipped.namelist()) == {*names, "sign.png"}
    assert zipped.read("sign.png") == sign()
    for name in drawings:
        assert zipped.read(name) == (out / name).read_bytes()


def test_files_that_are_waited_for_are_of_the_newest_change(page: Page) -> None:
    job_id = page.upload(sign())
    page.edit(job_id, size__width="10 in")
    assert page.client.post(f"/api/jobs/{job_id}/output").status_code == 202
    revision = page.edit(job_id, size__width="12 in").json()["revision"]
    for name, data in page.events(job_id):
        if name == "ready" and data["part"] == "output":
            break
    assert data["revision"] == revision
    report = page.client.get(f"/api/jobs/{job_id}/output/report.json").json()
    assert report["board"]["width_mm"] == pytest.approx(304.8)


def test_a_job_file_comes_down_and_goes_up_without_its_paths(page: Page, sized: str) -> None:
    text = page.client.get(f"/api/jobs/{sized}/job.toml").text
    assert read_job(text).size.width is not None
    other = page.upload(sign(), "other.png")
    sly = text.replace('file = "sign.png"', 'file = "../../secret.png"')
    sly = sly.replace('# table = "bits.toml"', 'table = "/etc/bits.toml"')
    sly += '\n[[text]]\nwords = "Hi"\nfont = "/etc/font.ttf"\nheight = "1 in"\ncolour = "#0b1f3a"\n'
    answer = page.client.put(f"/api/jobs/{other}/job.toml", content=sly)
    assert answer.status_code == 200, answer.text
    state = answer.json()
    assert state["job"]["artwork"]["file"] == "other.png"
    assert state["job"]["bits"]["table"] is None
    assert len(state["job"]["text"]) == 0
    assert any("secret.png" in note for note in state["warnings"])
    assert len(state["warnings"]) == 3
    bad = page.client.put(f"/api/jobs/{other}/job.toml", content="[size]\nwidth = 12 in\n")
    assert bad.status_code == 422
    assert "line 2" in bad.json()["message"]


def test_a_stage_that_is_done_holds_on_to_its_plan(page: Page) -> None:
    job_id = page.upload(sign())
    page.edit(job_id, size__width="10 in")
    planned = page.part(job_id, "plan")
    state = page.edit(job_id, pours__done=1).json()
    assert [list(stage) for stage in state["job"]["pours"]["stages"]] == planned["kept_stages"]
    again = page.part(job_id, "plan")
    assert [stage["done"] for stage in again["stages"]] == [True] + [False] * (
        len(again["stages"]) - 1
    )


def test_a_colour_is_shown_in_another_one(page: Page, sized: str) -> None:
    name = next(c["name"] for c in page.part(sized, "design")["colours"] if c["hex"] == "#0b1f3a")
    state = page.edit(sized, override=[{"colour": name, "shown": "#00ff80"}]).json()
    colour = next(c for c in page.part(sized, "design")["colours"] if c["name"] == name)
    assert (colour["hex"], colour["picture_hex"]) == ("#00ff80", "#0b1f3a")
    assert state["undo_label"] == "a change"
    page.client.post(f"/api/jobs/{sized}/undo")


def test_tryouts_are_kept_worked_out_and_taken(page: Page, sized: str) -> None:
    page.until_idle(sized)
    url = f"/api/jobs/{sized}/tryouts"
    number = page.client.post(url, json={"name": "ten inches"}).json()["k"]
    page.edit(sized, size__width="20 in")
    rows: list[dict[str, Any]] = []
    for name, data in page.events(sized):
        assert name != "fault", data
        rows = page.client.get(url).json()
        if rows[0]["ready"]:
            break
    assert rows[0]["rows"]["board_width_mm"] == pytest.approx(254)
    assert rows[0]["rows"]["days"] > 0
    assert page.client.get(rows[0]["finished"]).content.startswith(b"\x89PNG")
    state = page.client.post(f"{url}/{number}/take").json()
    assert state["job"]["size"]["width"] == "10 in"
    assert page.client.delete(f"{url}/{number}").status_code == 204
    assert page.client.get(url).json() == []
    assert page.client.post(f"{url}/{number}/take").status_code == 404


def test_a_bad_file_is_told_in_one_line(page: Page) -> None:
    for body in (b"", b"not a picture", sign()[:20]):
        answer = page.client.post("/api/jobs", content=body)
        assert answer.status_code == 415
        assert "\n" not in answer.json()["message"]
    assert not list(page.desk.store.folder.glob(".in-*"))


def test_a_picture_that_is_cut_short_is_a_fault_of_its_job(page: Page) -> None:
    job_id = page.upload(sign()[:200])
    faults = [data["message"] for name, data in page.until_idle(job_id) if name == "fault"]
    assert len(faults) == 1
    assert "cut short" in faults[0] or "damaged" in faults[0]
    assert page.client.get(f"/api/jobs/{job_id}/parts/preview").status_code == 404


def test_a_picture_bomb_is_refused_by_its_header(page: Page) -> None:
    # A PNG header that claims 60,000 x 60,000 pixels: 3.6 gigapixels in a few bytes.
    data = bytearray(sign())
    data[16:24] = (60_000).to_bytes(4, "big") * 2
    data[29:33] = zlib.crc32(data[12:29]).to_bytes(4, "big")
    answer = page.client.post("/api/jobs", content=bytes(data))
    assert answer.status_code == 415
    assert "60000 x 60000" in answer.json()["message"]


def test_a_dead_worker_is_one_clear_error_and_the_spare_takes_over(tmp_path: Path) -> None:
    with page_at(tmp_path) as page:
        first = worker_of(page)
        os.kill(first, signal.SIGSTOP)  # so that it has the order in hand when it dies
        job_id = page.upload(sign())
        faults = []
        for name, data in page.events(job_id):
            if name == "progress":
                os.kill(first, signal.SIGKILL)
            if name == "fault":
                faults.append(data["message"])
            if name == "idle":
                break
        assert len(faults) == 1
        assert "ended all of a sudden" in faults[0]
        page.edit(job_id, size__width="10 in")
        assert page.part(job_id, "design")["board"]["width_mm"] == pytest.approx(254)
        assert worker_of(page) != first


def test_a_newer_change_calls_the_older_back(tmp_path: Path) -> None:
    with page_at(tmp_path, grace_s=60.0) as page:
        job_id = page.upload(sign())
        page.edit(job_id, size__width="299 mm")
        page.until_idle(job_id)
        before = len(page.desk.standing(page.desk.store.open(job_id)).ran)
        for width in range(300, 340):
            revision = page.edit(job_id, size__width=f"{width} mm").json()["revision"]
        design = page.part(job_id, "design")
        assert design["revision"] == revision
        assert design["board"]["width_mm"] == pytest.approx(339)
        page.until_idle(job_id)
        ran = list(page.desk.standing(page.desk.store.open(job_id)).ran)[before:]
        assert ran.count("plan") == 1
        assert ran.count("place") < 40
        assert "trace" not in ran


def worker_of(page: Page) -> int:
    """Return the id of the process that works, once it is warm."""

    async def found() -> int:
        worker = await page.desk.pool.worker()
        await worker.ready()
        assert worker.pid is not None
        return worker.pid

    return asyncio.run_coroutine_threadsafe(found(), page.loop).result()


def test_a_worker_that_does_not_stop_when_it_is_asked_to_is_ended(tmp_path: Path) -> None:
    with page_at(tmp_path) as page:
        stuck = worker_of(page)
        os.kill(stuck, signal.SIGSTOP)  # deaf to everything but its end
        job_id = page.upload(sign())
        page.edit(job_id, size__width="10 in")
        page.edit(job_id, size__width="11 in")
        assert page.part(job_id, "design")["board"]["width_mm"] == pytest.approx(279.4)
        assert worker_of(page) != stuck
        assert [name for name, _ in page.until_idle(job_id) if name == "fault"] == []


def test_work_that_takes_too_long_is_ended_and_told(tmp_path: Path) -> None:
    with page_at(tmp_path, seconds=8.0) as page:
        os.kill(worker_of(page), signal.SIGSTOP)
        job_id = page.upload(sign())
        faults = [data["message"] for name, data in page.until_idle(job_id) if name == "fault"]
        assert len(faults) == 1
        assert "took longer than 8 s" in faults[0]


def test_two_visitors_see_each_others_changes(page: Page, sized: str) -> None:
    stream = page.events(sized)
    assert next(stream)
    revision = page.edit(sized, seal__kind="flood").json()["revision"]
    for name, data in stream:
        if name == "ready" and data["part"] == "plan" and data["revision"] == revision:
            break
    stream.close()  # type: ignore[attr-defined]


def test_settings_that_the_picture_does_not_allow_are_a_fault_that_undo_takes_back(
    page: Page, sized: str
) -> None:
    page.edit(sized, override=[{"colour": "no such colour", "role": "wood"}])
    events = page.until_idle(sized)
    faults = [data["message"] for name, data in events if name == "fault"]
    assert len(faults) == 1
    assert "no such colour" in faults[0]
    page.client.post(f"/api/jobs/{sized}/undo")
    assert [name for name, _ in page.until_idle(sized) if name == "fault"] == []


def test_a_restart_loses_nothing(tmp_path: Path) -> None:
    with page_at(tmp_path) as page:
        job_id = page.upload(sign())
        page.edit(job_id, size__width="10 in")
        page.edit(job_id, seal__kind="flood")
        page.until_idle(job_id)
        design = page.part(job_id, "design")
    with page_at(tmp_path) as page:
        (listed,) = page.client.get("/api/jobs").json()["jobs"]
        assert listed["id"] == job_id
        first = page.until_idle(job_id)
        ready = [data["part"] for name, data in first if name == "ready"]
        assert ready == ["source", "design", "check", "plan", "work"]
        assert page.part(job_id, "design") == design
        state = page.client.post(f"/api/jobs/{job_id}/undo").json()
        assert state["job"]["seal"]["kind"] == "band"
        assert state["can_redo"] is True
        assert page.client.delete(f"/api/jobs/{job_id}").status_code == 204
        assert page.client.get("/api/jobs").json()["jobs"] == []
        assert page.client.get(f"/api/jobs/{job_id}").status_code == 404
    assert list((tmp_path / "jobs").iterdir()) == []


def test_many_jobs_at_once_end_without_loss(tmp_path: Path) -> None:
    with page_at(tmp_path, kept_mb=20) as page:
        ids = [page.upload(sign((150 + 10 * number, 100))) for number in range(20)]
        for number, job_id in enumerate(ids):
            assert page.edit(job_id, size__width=f"{200 + number} mm").status_code == 200
        for number, job_id in enumerate(ids):
            page.until_idle(job_id)
            assert page.part(job_id, "design")["board"]["width_mm"] == pytest.approx(200 + number)
            assert page.part(job_id, "plan")["stages"]
            assert page.part(job_id, "check")["word"]
