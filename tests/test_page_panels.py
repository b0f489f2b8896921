"""Board, bits, pours and the board in the round, in a real browser at two sizes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import ExitStack
from io import BytesIO
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image, ImageDraw
from playwright.sync_api import Browser, expect
from playwright.sync_api import Page as Tab

from tests.browsing import NARROW, SOFT_3D, WIDE, another, chromium, visit
from tests.page import NAVY, RED, SAND, Page, page_at

CARDS = ".stage-card h4"
LEAST_TARGET_PX = 44


def fine_sign() -> bytes:
    """Return a navy disc, a red bar and a red stroke of 1.7 mm on a board 10 in wide, as PNG."""
    picture = Image.new("RGB", (300, 200), SAND)
    draw = ImageDraw.Draw(picture)
    draw.ellipse((30, 40, 150, 160), fill=NAVY)
    draw.rectangle((180, 60, 270, 140), fill=RED)
    draw.rectangle((180, 170, 270, 171), fill=RED)
    data = BytesIO()
    picture.save(data, "PNG")
    return data.getvalue()


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    with page_at(tmp_path_factory.mktemp("panels")) as running:
        yield running


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium(*SOFT_3D) as running:
        yield running


@pytest.fixture
def job(server: Page) -> str:
    job_id = server.upload(fine_sign())
    # Two stages: what shares one is told apart by the seal alone.
    body: dict[str, Any] = {"size__width": "10 in", "bits__use": ["flat 1/8 in"]}
    assert server.edit(job_id, **body).status_code == 200
    server.until_idle(job_id)
    return job_id


@pytest.fixture
def tab(server: Page, browser: Browser, job: str) -> Iterator[Tab]:
    with visit(browser, address(server, job)) as page:
        expect(page.locator(".stage-card").first).to_be_visible()
        yield page


def address(server: Page, job: str) -> str:
    return f"http://127.0.0.1:{server.port}/#job={job}"


def parts(server: Page, job: str) -> tuple[dict[str, Any], dict[str, Any]]:
    server.until_idle(job)
    return server.part(job, "plan"), server.part(job, "check")


def test_the_verdict_and_its_places_lead_to_the_picture_and_back(
    tab: Tab, server: Page, job: str
) -> None:
    _, check = parts(server, job)
    expect(tab.locator(".verdict-word strong")).to_have_text(check["word"])
    places = check["places"]
    assert len(places) >= 1
    whole = tab.locator("#drawing").get_attribute("viewBox")
    tab.click("#place-1")
    expect(tab.locator("#place-1")).to_have_attribute("aria-current", "true")
    seen = [float(x) for x in (tab.locator("#drawing").get_attribute("viewBox") or "").split()]
    assert " ".join(f"{x:g}" for x in seen) != whole
    x, y = places[0]["xy"]
    assert seen[0] < x < seen[0] + seen[2]
    assert seen[1] < y < seen[1] + seen[3]
    tab.locator("#drawing").press("0")
    tab.locator(".place .place-target").last.click()
    expect(tab.locator(f"#place-{places[-1]['number']}")).to_be_focused()


def test_a_size_is_typed_and_a_bad_one_is_told_beside_its_field(tab: Tab) -> None:
    field = tab.get_by_role("textbox", name="Width of the picture")
    field.fill("twelve")
    field.press("Enter")
    expect(tab.locator(".size .fault").filter(has_text="is not a length")).to_be_visible()
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_have_value("twelve")
    field.fill("12 in")
    field.press("Enter")
    expect(tab.locator(".result-line")).to_have_text("The board: 12 in x 8 in.")
    expect(field).to_have_attribute("aria-invalid", "false")


def test_a_bit_is_added_to_the_shelf_and_to_one_colour(tab: Tab, server: Page, job: str) -> None:
    tab.get_by_label("Another bit").fill("flat 1/16 in")
    tab.get_by_role("button", name="Add", exact=True).click()
    expect(tab.locator('[id="bit--flat-1/16-in"]')).to_be_checked()
    tab.get_by_text("Other bits for one colour").click()
    colour = tab.locator("details.colour-block").first
    colour.locator("summary").click()
    colour.get_by_role("button", name="Give it bits of its own").press("Enter")
    expect(tab.locator("details.colour-block[open] .bit-list")).to_be_visible()
    # What takes the button's place takes its focus.
    expect(tab.get_by_role("button", name="Cut it with the whole shelf")).to_be_focused()
    override = server.client.get(f"/api/jobs/{job}").json()["job"]["override"]
    assert [one["bits"] for one in override] == [["flat 1/8 in", "flat 1/16 in"]]


def test_advice_is_taken_by_its_button(tab: Tab, server: Page, job: str) -> None:
    _, check = parts(server, job)
    number = next(n for n, one in enumerate(check["advice"]) if one["changes"])
    wanted = check["advice"][number]["changes"]
    tab.click(f"#advice-{number}")
    tab.wait_for_function("() => document.querySelector('.bar button[aria-label^=\"Undo: \"]')")
    settings = server.client.get(f"/api/jobs/{job}").json()["job"]
    for change in wanted:
        section, field = change["path"].split(".")
        assert settings[section][field] == change["value"]


def test_stages_are_stepped_through_and_a_pocket_tells_what_it_takes(
    tab: Tab, server: Page, job: str
) -> None:
    plan, _ = parts(server, job)
    stage = next(one for one in plan["stages"] if one["kind"] == "pour")
    tab.click(f"#stage-show-{stage['number']}")
    expect(tab.locator(".base .look").first).to_be_attached()
    fill = stage["mixes"][0]["pockets"][0]
    spot = tab.locator("#drawing").evaluate(
        """(drawing, [x, y]) => {
            const at = new DOMPoint(x, y).matrixTransform(drawing.getScreenCTM());
            return [at.x, at.y];
        }""",
        fill["xy"],
    )
    tab.mouse.click(*spot)
    told = tab.locator(".pocket-told")
    expect(told).to_contain_text(f"stage {stage['number']}")
    expect(told).to_contain_text(f"{round(fill['ml'], 1):g} ml")
    tab.locator("#drawing").press("Escape")
    tab.get_by_role("button", name="Show the design").click()
    expect(told).to_be_hidden()


def test_a_pour_is_moved_by_keys_and_by_hand(tab: Tab, server: Page, job: str) -> None:
    assert server.edit(job, pours__gap="100 mm").status_code == 200
    expect(tab.locator(CARDS)).to_have_count(3)
    before = tab.locator(CARDS).all_inner_texts()
    last = before[-1]
    tab.locator(f'[id="stage-earlier-{last}"]').press("Enter")
    expect(tab.locator(CARDS).nth(1)).to_have_text(last)
    expect(tab.locator(f'[id="stage-earlier-{last}"]')).to_be_focused()
    order = server.client.get(f"/api/jobs/{job}").json()["job"]["pours"]["order"]
    assert order == [last, before[1]]
    handle = tab.locator(".drag-handle").last
    handle.scroll_into_view_if_needed()
    grip, above = handle.bounding_box(), tab.locator(".stage-card").nth(1).bounding_box()
    assert grip
    assert above
    tab.mouse.move(grip["x"] + 20, grip["y"] + 20)
    tab.mouse.down()
    tab.mouse.move(grip["x"] + 20, above["y"] + 10, steps=8)
    expect(tab.locator(".stage-card.drop-above")).to_have_count(1)
    tab.mouse.up()
    expect(tab.locator(CARDS).nth(1)).to_have_text(before[1])
    tab.get_by_role("button", name="Let the program choose").click()
    expect(tab.get_by_text("The program chose this order.")).to_be_visible()


def test_what_is_done_stays_and_cannot_be_moved(tab: Tab, server: Page, job: str) -> None:
    tab.check("#stage-done-1")
    expect(tab.get_by_role("button", name="Nothing is poured yet")).to_be_visible()
    done = [stage["done"] for stage in parts(server, job)[0]["stages"]]
    assert done == [True, *[False] * (len(done) - 1)]
    expect(tab.locator(".stage-card").first.locator(".movers")).to_have_count(0)


def test_seals_are_compared_and_chosen(tab: Tab, server: Page, job: str) -> None:
    tab.click("#seal-brush")
    expect(tab.locator("#seal-brush")).to_have_attribute("aria-pressed", "true")
    plan, _ = parts(server, job)
    expect(tab.locator("#mix-coat")).to_be_visible()
    grams = plan["coat"]["batches"][0]["a_g"]
    expect(tab.locator("#mix-coat")).to_contain_text(f"{grams:g} g A")


def test_try_outs_are_kept_compared_and_taken(tab: Tab, server: Page, job: str) -> None:
    name = tab.get_by_label("Name of this try-out")
    name.fill("small")
    name.press("Enter")
    expect(tab.locator(".tryout")).to_have_count(1)
    assert server.edit(job, size__width="20 in").status_code == 200
    expect(tab.locator(".result-line")).to_contain_text("20 in")
    name.fill("large")
    name.press("Enter")
    expect(tab.locator(".tryout-figures")).to_have_count(2)
    # Four times the area holds more resin: the small one has the least.
    expect(tab.locator(".tryout").first.locator(".least").filter(has_text="Resin")).to_be_visible()
    tab.get_by_role("button", name="Take this one: small").click()
    expect(tab.locator(".result-line")).to_contain_text("10 in")


def test_the_board_is_turned_in_the_round(tab: Tab) -> None:
    tab.locator("#solid-open").press("Enter")
    canvas = tab.locator(".solid-canvas")
    expect(canvas).to_be_focused()
    label = canvas.get_attribute("aria-label") or ""
    assert label.startswith("The finished board")
    pictures = [canvas.screenshot()]
    for key in ("ArrowLeft", "ArrowUp", "+"):
        canvas.press(key)
        pictures.append(canvas.screenshot())
    tab.get_by_role("button", name="Carved").click()
    pictures.append(canvas.screenshot())
    tab.get_by_label("Depth of the carved pockets").fill("4")
    expect(tab.get_by_text("4 times as deep as it is")).to_be_visible()
    pictures.append(canvas.screenshot())
    assert len(set(pictures)) == len(pictures)
    expect(canvas).to_have_attribute("aria-label", re.compile("^The carved board, depths 4 times"))


def test_without_3d_the_board_is_told_in_words(server: Page, browser: Browser, job: str) -> None:
    with (
        another(browser, "--disable-3d-apis") as flat,
        visit(flat, address(server, job), NARROW) as page,
    ):
        expect(page.locator(".stage-card").first).to_be_visible()
        page.click("#solid-open")
        expect(page.locator(".solid")).to_contain_text("A board 10 in x 6 43/64 in")


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_everybody_can_use_it(
    server: Page, browser: Browser, job: str, size: tuple[int, int], theme: str
) -> None:
    with ExitStack() as stack:
        page = stack.enter_context(visit(browser, address(server, job), size, color_scheme=theme))
        expect(page.locator(".stage-card").first).to_be_visible()
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        found = Axe().run(page).response["violations"]
        bad = [one["id"] for one in found if one["impact"] in ("serious", "critical")]
        assert bad == []
        assert page.evaluate(SMALL_TARGETS, LEAST_TARGET_PX) == []


SMALL_TARGETS = """least => [...document.querySelectorAll(
    '.block button, .block select, .block input:not(.switch), .block summary, .solid button')]
  .filter(one => one.getClientRects().length > 0)
  .map(one => [one, (one.closest('label') ?? one).getBoundingClientRect()])
  .filter(([, box]) => box.width < least || box.height < least)
  .map(([one]) => one.id || one.textContent)
"""
