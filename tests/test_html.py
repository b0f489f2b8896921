"""The page: read back by a parser, measured against the accessibility guidelines' formulas."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from xml.etree import ElementTree

import cv2
import numpy as np
import pytest

from img2pour.pours.schedule import Step
from img2pour.write.chart import chart_svg, lanes
from img2pour.write.html import MOST_BYTES, report_html, sentence
from img2pour.write.make_sheet import sheet_of
from img2pour.write.sheet import Sheet
from img2pour.write.shrink import fit_pictures, smaller
from img2pour.write.values import Picture
from img2pour.write.words import is_colour_code
from tests.sheets import (
    HOSTILE,
    disc_result,
    full_sheet,
    hostile_sheet,
    plain_sheet,
    pond_plan,
)

VOID = {"meta", "img", "br", "link", "input", "hr"}


class Reader(HTMLParser):
    """Keeps the tags, the text and what is left open."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.text = ""
        self.feed(page.decode())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data if self.open[-1:] != ["style"] else ""

    def of(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.tags if name == tag]


@pytest.mark.parametrize("sheet", [plain_sheet(), full_sheet(), full_sheet("in"), hostile_sheet()])
def test_the_page_is_whole_and_needs_no_network(sheet: Sheet) -> None:
    page = report_html(sheet)
    read = Reader(page)
    assert read.open == []
    assert len(page) <= MOST_BYTES
    sources = [attrs.get("src") or attrs.get("href") or "" for _, attrs in read.tags]
    assert all(source.startswith(("data:image/png;base64,", "#")) for source in sources if source)
    assert "url(http" not in page.decode()
    assert "default-src 'none'" in page.decode()


@pytest.mark.parametrize("sheet", [plain_sheet(), full_sheet(), hostile_sheet()])
def test_the_page_can_be_read_aloud(sheet: Sheet) -> None:
    read = Reader(report_html(sheet))
    assert read.of("html")[0]["lang"] == "en"
    assert all(attrs.get("alt") for attrs in read.of("img"))
    assert all(attrs.get("scope") in {"col", "row"} for attrs in read.of("th"))
    assert len(read.of("caption")) == len(read.of("table"))
    levels = [int(tag[1]) for tag, _ in read.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    names = [attrs["id"] for _, attrs in read.tags if attrs.get("id")]
    assert len(names) == len(set(names))
    wanted = [attrs.get("aria-labelledby") for _, attrs in read.tags] + [
        (attrs.get("href") or "")[1:] for attrs in read.of("a")
    ]
    assert all(name in names for name in wanted if name)


def test_no_name_becomes_markup() -> None:
    page = report_html(hostile_sheet()).decode()
    assert "<script" not in page.lower()
    read = Reader(page.encode())
    assert HOSTILE[:25] in read.text
    assert "\u202e" not in page  # it would turn the figures behind it
    harmless = {tag for tag, _ in Reader(report_html(full_sheet())).tags}
    for tag, attrs in read.tags:
        assert tag in harmless
        assert not any(name.startswith("on") for name in attrs)
        assert "onload" not in (attrs.get("style") or "")


def test_what_is_not_there_is_left_out() -> None:
    plain, full = Reader(report_html(plain_sheet())), Reader(report_html(full_sheet()))
    titles = [attrs.get("id") for attrs in plain.of("section")]
    assert titles == ["heed", "piece", "reach", "cautions"]
    assert [attrs.get("id") for attrs in full.of("section")] == [
        "heed", "piece", "reach", "kept", "order", "stages", "shopping", "days", "sections",
        "cautions",
    ]  # fmt: skip


def test_a_brushed_coat_has_its_own_block() -> None:
    read = Reader(report_html(sheet_of(disc_result(), pond_plan(seal_kind="brush"))))
    assert "Seal coat, brushed" in read.text
    assert "Edge that stays bare" not in read.text
    bare = Reader(report_html(sheet_of(disc_result(), pond_plan(seal_kind="none"))))
    assert "Edge that stays bare" in bare.text


def test_weights_and_volumes_stand_apart_with_their_units() -> None:
    sheet = full_sheet()
    assert sheet.pours is not None
    batch = sheet.pours.stages[1].mixes[0].batches[0]
    assert batch.ml is not None
    text = " ".join(Reader(report_html(sheet)).text.split())
    for block, figures in (
        ("By weight: grams on a scale", (f"{batch.weight.a_g:g} g", f"{batch.weight.b_g:g} g")),
        ("Or by volume: marks on a cup", (f"{batch.ml.a:g} ml", f"{batch.ml.b:g} ml")),
    ):
        parts = text.split("Mix for pond")[1].split(block)[1][:260]
        assert all(figure in parts for figure in figures)
    # 2:1 by volume is not 2:1 by weight.
    assert batch.ml.a == pytest.approx(2 * batch.ml.b)
    assert batch.weight.a_g / batch.weight.b_g == pytest.approx(2 * 1.15 / 0.98, rel=0.02)


def luminance(code: str) -> float:
    """Relative luminance: WCAG 2.2, definition of relative luminance."""
    digits = code[1:] if len(code) == 7 else "".join(2 * c for c in code[1:])
    values = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in values]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, two: str) -> float:
    """WCAG 2.2, definition of contrast ratio."""
    dark, light = sorted((luminance(one), luminance(two)))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("scheme", [0, 1, 2])
def test_text_stands_out_from_its_ground(scheme: int) -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    style = report_html(plain_sheet()).decode().split("<style>")[1].split("</style>")[0]
    tones = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{3,6});", style.split(":root {")[scheme + 1]))
    for text in ("ink", "soft", "mark", "bad"):
        for ground in ("paper", "band", "mark-band", "bad-band"):
            if (text, ground) in {("bad", "mark-band"), ("mark", "bad-band"), ("soft", "bad-band")}:
                continue  # never together
            assert contrast(tones[text], tones[ground]) >= 4.5, (text, ground)
    assert contrast(tones["soft"], tones["paper"]) >= 4.5


def test_large_pictures_are_made_to_fit() -> None:
    noise = np.random.default_rng(7).integers(0, 255, (900, 1400, 3), np.uint8)
    data = cv2.imencode(".png", noise)[1].tobytes()
    shown = Picture(data, 1400, 900, "noise")
    sheet = full_sheet()
    assert sheet.pours is not None
    stages = tuple(replace(stage, picture=shown) for stage in sheet.pours.stages)
    heavy = replace(sheet, finished=shown, pours=replace(sheet.pours, stages=stages))
    assert 4 * len(data) > MOST_BYTES
    assert len(report_html(heavy)) <= MOST_BYTES
    assert fit_pictures(sheet, 10**9).finished is sheet.finished


def test_a_smaller_picture_is_the_same_picture() -> None:
    half = smaller(plain_sheet().finished, 0.5)
    pixels = cv2.imdecode(np.frombuffer(half.data, np.uint8), cv2.IMREAD_COLOR)
    assert pixels is not None
    assert pixels.shape == (half.height_px, half.width_px, 3) == (472, 700, 3)
    assert pixels[236, 350].tolist() == pytest.approx([150, 60, 20], abs=3)


def row(number: int, stage: int, start: float, end: float, wait: float) -> Step:
    work = end - start - wait
    return Step(number, stage, "carve", "carve", "", work, 0.0, wait, start, end)


def test_the_chart_shows_every_step_where_the_clock_says() -> None:
    rows = [
        row(1, 0, 0, 6.5, 6),
        row(2, 1, 24, 73, 48),
        row(3, 2, 96, 98, 0),
        row(4, 0, 98, 120, 20),
    ]
    drawn = ElementTree.fromstring(chart_svg(rows, {1: HOSTILE.replace("\x00", ""), 2: "lily"}))
    texts = [text.text or "" for text in drawn.iter("text")]
    titles = [words.split(":")[0].strip() for words in texts if words[:3] in {"Pre", "Sta", "Fin"}]
    assert titles == [
        "Prepare", "Stage 1", "Stage 2", "Finish",
    ]  # fmt: skip
    waits = [bar for bar in drawn.iter("rect") if bar.get("class") == "wait"]
    # Five days on 392 units: 3.2667 each hour.
    assert float(waits[1].get("x", "")) == pytest.approx(4 + 24 * 392 / 120, abs=0.01)
    assert float(waits[1].get("width", "")) == pytest.approx(49 * 392 / 120, abs=0.01)
    assert [lane.title for lane in lanes(rows, {1: "a", 2: "b"})] == [
        "Prepare", "Stage 1: a", "Stage 2: b", "Finish",
    ]  # fmt: skip


def test_the_same_sheet_gives_the_same_page() -> None:
    assert report_html(full_sheet()) == report_html(full_sheet())


def test_small_helpers() -> None:
    assert sentence("dark before light") == "Dark before light."
    assert is_colour_code("#12abEF")
    assert not is_colour_code("#12abEF;}")
