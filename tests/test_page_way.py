"""The way from a picture to its files, in a real browser: handles, colours, regions, files."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest
from axe_playwright_python.sync_playwright import Axe
from click.testing import CliRunner
from playwright.sync_api import Browser, FilePayload, Locator, expect
from playwright.sync_api import Page as Tab

from img2pour.cli import main
from tests.browsing import NARROW, WIDE, chromium, visit
from tests.page import Page, page_at, sign

# Middle of the red bar on a board 10 in wide, y down: 3/4 and 1/2 of the sign (see `sign`).
BAR_MM = (0.75 * 254.0, 0.5 * 254.0 / 1.5)
START_S = 40.0


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    with page_at(tmp_path_factory.mktemp("way"), max_mb=1.0) as running:
        yield running


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture
def job(server: Page) -> str:
    job_id = server.upload(sign())
    assert server.edit(job_id, size__width="10 in").status_code == 200
    server.until_idle(job_id)
    return job_id


@pytest.fixture
def tab(server: Page, browser: Browser, job: str) -> Iterator[Tab]:
    with visit(browser, address(server.port, job)) as page:
        expect(page.locator(".swatch")).to_have_count(3)
        yield page


def address(port: int, job: str = "") -> str:
    return f"http://127.0.0.1:{port}/" + (f"#job={job}" if job else "")


def file(name: str, data: bytes) -> FilePayload:
    """Return a file as it is chosen by hand."""
    return {"name": name, "mimeType": "application/octet-stream", "buffer": data}


def settings(server: Page, job: str) -> dict[str, Any]:
    found: dict[str, Any] = server.client.get(f"/api/jobs/{job}").json()["job"]
    return found


def until(server: Page, job: str, wanted: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
    """Return the settings, once they are as wanted."""
    ends = time.monotonic() + START_S
    while not wanted(found := settings(server, job)):
        assert time.monotonic() < ends, found
        time.sleep(0.05)
    return found


def on_screen(tab: Tab, at_mm: tuple[float, float]) -> tuple[float, float]:
    """Return where a point of the board is on the screen."""
    x, y = tab.locator("#drawing").evaluate(
        """(drawing, [x, y]) => {
            const at = new DOMPoint(x, y).matrixTransform(drawing.getScreenCTM());
            return [at.x, at.y];
        }""",
        list(at_mm),
    )
    return x, y


def middle(handle: Locator) -> tuple[float, float]:
    box = handle.bounding_box()
    assert box
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def area_text(tab: Tab, index: int) -> str:
    return tab.locator(f"#colour-{index} .swatch-words span").inner_text()


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
def test_a_picture_becomes_a_zip_whose_files_are_those_of_the_command(
    server: Page, browser: Browser, size: tuple[int, int], tmp_path: Path
) -> None:
    picture = file("harbour.png", sign())
    with visit(browser, address(server.port), size, accept_downloads=True) as tab:
        tab.set_input_files("#picture-file", files=[picture])
        expect(tab.locator(".job-title:visible")).to_have_text("harbour")
        tab.get_by_role("button", name="Say how large").click()
        width = tab.get_by_label("Width of the artwork")
        tab.keyboard.press("Tab")
        width.fill("10 in")
        width.press("Enter")
        expect(tab.locator(".figure dd").first).to_contain_text("10 in x ")
        tab.get_by_role("button", name="Make the files").click()
        with tab.expect_download() as coming:
            tab.locator(".zip").click(timeout=120_000)
        coming.value.save_as(tmp_path / "all.zip")
    with zipfile.ZipFile(tmp_path / "all.zip") as whole:
        whole.extractall(tmp_path / "page")
    (folder,) = {path.parent for path in (tmp_path / "page").rglob("job.toml")}
    done = CliRunner().invoke(main, ["run", str(folder / "job.toml"), "-o", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output
    drawings = sorted((tmp_path / "out").rglob("*.dxf"))
    assert len(drawings) >= 3
    for drawing in drawings:
        name = drawing.relative_to(tmp_path / "out")
        assert (folder / name).read_bytes() == drawing.read_bytes(), name


def test_corners_follow_the_mouse_at_once_and_keys_after_a_rest(
    tab: Tab, server: Page, job: str
) -> None:
    tab.get_by_role("button", name="Corners", exact=True).click()
    handle = tab.get_by_role("button", name="Upper left corner")
    handle.scroll_into_view_if_needed()
    x, y = middle(handle)
    tab.mouse.move(x, y)
    tab.mouse.down()
    tab.mouse.move(x + 12, y + 9, steps=4)
    expect(tab.locator(".warp")).to_be_visible()
    expect(tab.locator(".loupe")).to_be_visible()
    assert settings(server, job)["photo"]["straighten"] == "auto"
    assert middle(handle) == pytest.approx((x + 12, y + 9), abs=1.0)
    tab.mouse.up()
    given = until(server, job, lambda now: now["photo"]["straighten"] != "auto")
    assert len(given["photo"]["straighten"].split()) == 4
    expect(tab.get_by_role("button", name="My corners")).to_have_attribute("aria-pressed", "true")
    before = given["photo"]["straighten"].split()[0]
    handle.press("ArrowRight")
    handle.press("ArrowRight")
    moved = until(server, job, lambda now: now["photo"]["straighten"].split()[0] != before)
    was_x, now_x = (float(p.split(",")[0]) for p in (before, moved["photo"]["straighten"]))
    assert now_x == pytest.approx(was_x + 2, abs=0.2)
    expect(handle).to_be_focused()


def test_the_picture_is_cropped_turned_and_mirrored(tab: Tab, server: Page, job: str) -> None:
    tab.get_by_role("button", name="Crop", exact=True).click()
    handle = tab.get_by_role("button", name="Crop, upper left")
    for _ in range(3):
        handle.press("Shift+ArrowRight")
    inside = until(server, job, lambda now: now["touch"])["touch"][0]["inside"]
    assert inside == ["30,0", "300,0", "300,200", "30,200"]
    tab.get_by_role("button", name="Turn right", exact=True).click()
    tab.get_by_role("button", name="Mirror", exact=True).click()
    actions = until(server, job, lambda now: len(now["touch"]) == 3)["touch"]
    assert [one["action"] for one in actions] == ["crop", "turn", "mirror"]
    tab.get_by_role("button", name="Mirror", exact=True).click()
    tab.get_by_role("button", name="Turn left", exact=True).click()
    tab.get_by_role("button", name="Keep all of it", exact=True).click()
    until(server, job, lambda now: now["touch"] == [])


def test_of_two_presses_in_a_row_both_count(tab: Tab, server: Page, job: str) -> None:
    tab.evaluate("""() => {
        for (const [colour, role] of [[0, "outside"], [1, "outside"]])
            document.getElementById(`role-${colour}-${role}`).click();
    }""")
    roles = until(server, job, lambda now: len(now["override"]) == 2)["override"]
    assert [one["role"] for one in roles] == ["outside", "outside"]


def test_two_measured_points_give_the_size(tab: Tab, server: Page, job: str) -> None:
    tab.get_by_label("I measured between two points").check()
    length = tab.get_by_label("Between the two points")
    length.fill("5")
    length.press("Enter")
    expect(tab.locator(".fault:visible").filter(has_text="has no unit")).to_be_visible()
    length.fill("5 in")
    length.press("Enter")
    expect(length).to_have_attribute("aria-invalid", "false")
    # The points stand at 1/4 and 3/4 of the width, so that the whole is twice as wide.
    expect(tab.locator(".figure dd").first).to_contain_text("10 in x ")
    now = settings(server, job)
    assert now["size"]["width"] is None
    assert now["photo"]["measure"] == "75,100 225,100 = 5 in"


def test_a_region_is_recoloured_by_a_click_and_undone(tab: Tab, server: Page, job: str) -> None:
    before = [area_text(tab, index) for index in range(3)]
    colours = {one["name"]: one for one in server.part(job, "design")["colours"]}
    navy = next(name for name, one in colours.items() if one["hex"] == "#0b1f3a")
    tab.mouse.click(*on_screen(tab, BAR_MM))
    picked = tab.get_by_role("region", name="Picked region")
    expect(picked).to_contain_text("pour")
    picked.get_by_role("button", name=navy, exact=True).click()
    expect(tab.locator(".handmade li")).to_have_count(1)
    expect(tab.locator(".swatch")).to_have_count(2)
    tab.keyboard.press("Control+z")
    expect(tab.locator(".swatch")).to_have_count(3)
    assert [area_text(tab, index) for index in range(3)] == before
    tab.keyboard.press("Control+Shift+Z")
    expect(tab.locator(".swatch")).to_have_count(2)
    tab.get_by_role("button", name="Take away: 1 picked region").click()
    expect(tab.locator(".swatch")).to_have_count(3)


def test_a_region_is_erased_by_keys_alone(tab: Tab, server: Page, job: str) -> None:
    drawing = tab.locator("#drawing")
    drawing.focus()
    drawing.press("ArrowRight")
    for _ in range(5):
        drawing.press("Shift+ArrowRight")
    drawing.press("Enter")
    picked = tab.get_by_role("region", name="Picked region")
    expect(picked).to_contain_text("pour")
    picked.get_by_role("button", name="Erase").press("Enter")
    expect(tab.locator(".swatch")).to_have_count(2)
    (touch,) = settings(server, job)["touch"]
    assert touch["action"] == "erase"
    expect(drawing).to_be_focused()


def test_a_colour_is_renamed_recoloured_merged_and_given_a_role(
    tab: Tab, server: Page, job: str
) -> None:
    colours = server.part(job, "design")["colours"]
    red = next(one["index"] for one in colours if one["hex"] == "#ae2012")
    other = next(one["name"] for one in colours if one["hex"] == "#0b1f3a")
    tab.click(f"#role-{red}-wood")
    expect(tab.locator(f"#role-{red}-wood")).to_have_attribute("aria-pressed", "true")
    expect(tab.locator(f"#role-{red}-wood")).to_be_focused()
    tab.keyboard.press("Control+z")
    expect(tab.locator(f"#role-{red}-pour")).to_have_attribute("aria-pressed", "true")
    tab.click(f"#colour-{red}")
    tab.locator(f"#name-{red}").fill("roof")
    tab.locator(f"#name-{red}").press("Enter")
    expect(tab.locator(f"#colour-{red} b")).to_have_text("roof")
    tab.locator(f"#hex-{red}").fill("#118844")
    until(server, job, lambda now: any(one["shown"] == "#118844" for one in now["override"]))
    expect(tab.get_by_role("button", name="As in the picture")).to_be_visible()
    tab.locator(f"#merge-{red}").select_option(other)
    expect(tab.locator(".handmade li")).to_contain_text(f"roof is merged into {other}")
    expect(tab.locator(".swatch")).to_have_count(2)


def test_settings_go_down_and_up_again(tab: Tab, tmp_path: Path) -> None:
    with tab.expect_download() as coming:
        tab.get_by_role("link", name="Take job.toml").click()
    coming.value.save_as(tmp_path / "job.toml")
    text = (tmp_path / "job.toml").read_text("utf-8")
    (tmp_path / "job.toml").write_text(text.replace('width = "10 in"', 'width = "8 in"'), "utf-8")
    tab.set_input_files("#job-file", tmp_path / "job.toml")
    expect(tab.locator(".figure dd").first).to_contain_text("8 in x ")
    (tmp_path / "job.toml").write_text(text.replace('width = "10 in"', 'width = "8"'), "utf-8")
    tab.set_input_files("#job-file", tmp_path / "job.toml")
    expect(tab.locator(".job-file .fault").first).to_contain_text("size.width: ")
    expect(tab.locator(".figure dd").first).to_contain_text("8 in x ")


def test_what_is_no_picture_or_too_large_is_told_in_words(server: Page, browser: Browser) -> None:
    with visit(browser, address(server.port)) as tab:
        words = file("words.png", b"no picture " * 50)
        tab.set_input_files("#picture-file", files=[words])
        expect(tab.get_by_role("alert")).to_contain_text("is no picture")
        huge = file("huge.png", bytes(1_100_000))
        tab.set_input_files("#picture-file", files=[huge])
        expect(tab.get_by_role("alert")).to_contain_text("pictures of up to 1 MB are taken")
        alone = file("job.toml", b"[size]")
        tab.set_input_files("#picture-file", files=[alone])
        expect(tab.get_by_role("alert")).to_contain_text("bring in its picture first")


@pytest.mark.parametrize("way", ["drop", "paste"])
def test_a_picture_is_dropped_or_pasted_and_its_job_deleted(
    server: Page, browser: Browser, way: str
) -> None:
    with visit(browser, address(server.port)) as tab:
        tab.evaluate(BRING, [way, list(sign()), f"{way}ped häuser.png"])
        expect(tab.locator(".job-title:visible")).to_have_text(f"{way}ped häuser")
        tab.get_by_role("link", name="img2pour").click()
        row = tab.locator(".job-row").filter(has_text=f"{way}ped")
        row.get_by_role("button", name="Delete", exact=False).first.click()
        row.get_by_role("button", name="for good").click()
        expect(row).to_have_count(0)


BRING = """([way, bytes, name]) => {
    const data = new DataTransfer();
    data.items.add(new File([Uint8Array.from(bytes)], name, { type: "image/png" }));
    const more = { bubbles: true, cancelable: true };
    document.body.dispatchEvent(way === "drop"
        ? new DragEvent("drop", { ...more, dataTransfer: data })
        : new ClipboardEvent("paste", { ...more, clipboardData: data }));
}"""


def test_two_visitors_see_one_job_and_work_on_two(
    tab: Tab, server: Page, browser: Browser, job: str
) -> None:
    with visit(browser, address(server.port, job), NARROW) as second:
        expect(second.locator(".swatch")).to_have_count(3)
        tab.get_by_label("Width of the artwork").fill("9 in")
        tab.keyboard.press("Enter")
        expect(second.locator(".figure dd").first).to_contain_text("9 in x ")
        other = file("other.png", sign((240, 160)))
        second.get_by_role("link", name="img2pour").click()
        second.set_input_files("#picture-file", files=[other])
        expect(second.locator(".job-title:visible")).to_have_text("other")
        expect(second.locator(".swatch")).to_have_count(3)
        expect(tab.locator(".job-title:visible")).to_have_text("sign")


@contextmanager
def served(folder: Path, port: int) -> Iterator[subprocess.Popen[bytes]]:
    """Run the command that serves, until it answers."""
    call = [sys.executable, "-m", "img2pour", "serve", "--no-browser", "--port", str(port)]
    running = subprocess.Popen([*call, "--data", str(folder)], stdout=subprocess.DEVNULL)
    try:
        ends = time.monotonic() + START_S
        while not _answers(port):
            assert time.monotonic() < ends
            time.sleep(0.1)
        yield running
    finally:
        if running.poll() is None:
            os.kill(running.pid, signal.SIGTERM)
        running.wait(START_S)


def _answers(port: int) -> bool:
    try:
        return httpx.get(f"http://127.0.0.1:{port}/api/jobs", timeout=5).status_code == 200
    except httpx.TransportError:
        return False


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def test_a_killed_server_loses_nothing(browser: Browser, tmp_path: Path) -> None:
    port = _free_port()
    picture = file("kept.png", sign())
    with served(tmp_path, port) as first, visit(browser, address(port)) as tab:
        tab.set_input_files("#picture-file", files=[picture])
        expect(tab.locator(".swatch")).to_have_count(3)
        tab.get_by_label("Width of the artwork").fill("10 in")
        tab.keyboard.press("Enter")
        expect(tab.get_by_role("button", name="Undo: ")).to_be_visible()
        first.kill()
        first.wait(START_S)
        expect(tab.locator(".going")).to_contain_text("No connection to the program")
        with served(tmp_path, port):
            expect(tab.locator(".going")).not_to_contain_text("No connection")
            expect(tab.locator(".figure dd").first).to_contain_text("10 in x ")
            tab.reload()
            expect(tab.locator(".figure dd").first).to_contain_text("10 in x ")
            tab.get_by_role("button", name="Undo: ").click()
            expect(tab.get_by_role("button", name="Say how large")).to_be_visible()


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_everybody_can_bring_a_picture_and_change_it(
    server: Page, browser: Browser, job: str, size: tuple[int, int], theme: str
) -> None:
    with visit(browser, address(server.port), size, color_scheme=theme) as tab:
        expect(tab.locator(".job-row").first).to_be_visible()
        assert _barriers(tab) == []
        tab.goto(address(server.port, job))
        expect(tab.locator(".swatch")).to_have_count(3)
        tab.get_by_role("button", name="Corners", exact=True).click()
        tab.click("#colour-1")
        tab.mouse.click(*on_screen(tab, BAR_MM))
        expect(tab.get_by_role("region", name="Picked region")).to_be_visible()
        assert _barriers(tab) == []
        assert tab.evaluate("document.documentElement.scrollWidth") <= size[0]
        assert json.loads(tab.evaluate(SMALL_TARGETS)) == []


def _barriers(tab: Tab) -> list[str]:
    found = Axe().run(tab).response["violations"]
    return [one["id"] for one in found if one["impact"] in ("serious", "critical")]


SMALL_TARGETS = """JSON.stringify([...document.querySelectorAll(
    '.bar button, .view button, #step-1 ~ * button, .swatches button, .jobs button')]
  .filter(one => one.getClientRects().length > 0)
  .map(one => [one.getAttribute('aria-label') || one.textContent, one.getBoundingClientRect()])
  .filter(([, box]) => box.width < 44 || box.height < 44)
  .map(([name]) => name))"""
