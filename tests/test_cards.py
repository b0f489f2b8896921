"""The printed pages, read and rendered by an independent reader (PDFium)."""

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from img2pour.write.cards import report_pdf
from img2pour.write.make_sheet import sheet_of
from img2pour.write.outlines import Outline
from img2pour.write.pdf_lines import arc_curves
from img2pour.write.pdf_parts import Paper, shortened
from img2pour.write.sheet import Sheet
from img2pour.write.template import template_pdf
from img2pour.write.tiles import FOOT_MM, MARGIN_MM, OVERLAP_MM, tile_over
from img2pour.write.values import Board
from tests.sheets import PINS, disc_result, full_sheet, hostile_sheet, plain_sheet, pond_plan


def words_of(data: bytes) -> list[str]:
    """Return the text of every page on one line each."""
    document = pypdfium2.PdfDocument(data)
    texts = [page.get_textpage().get_text_range() for page in document]
    document.close()
    return [" ".join(text.split()) for text in texts]


def rendered(data: bytes, page: int, dpi: float) -> NDArray[np.uint8]:
    """Return one page in grey."""
    document = pypdfium2.PdfDocument(data)
    image = document[page].render(scale=dpi / 72, grayscale=True).to_numpy()
    grey = np.array(image).reshape(image.shape[:2])
    document.close()
    return grey


def test_a_cover_and_a_card_for_each_stage() -> None:
    sheet = full_sheet()
    assert sheet.pours is not None
    pages = words_of(report_pdf(sheet))
    cards = pages[-len(sheet.pours.stages) :]
    assert "pond & reeds" in pages[0]
    assert "Gloves" in cards[0] or "gloves" in cards[0]
    for card, stage in zip(cards, sheet.pours.stages, strict=True):
        batch = stage.mixes[0].batches[0]
        for figure in (
            stage.pockets[0].layer,
            f"{stage.top_mm:g} mm",
            f"{batch.weight.a_g:g} g",
            f"{batch.weight.b_g:g} g",
            "What was measured",
            "the board's lower-left corner",
            "by weight",
        ):
            assert figure in card
        assert batch.ml is not None
        assert f"{batch.ml.a:g} ml" not in card  # weights alone: nothing to confuse


@pytest.mark.parametrize("units", ["mm", "in"])
def test_a_card_is_one_page(units: str) -> None:
    sheet = full_sheet(units)
    assert sheet.pours is not None
    pages = words_of(report_pdf(sheet))
    assert [page.count("What was measured") for page in pages] == [0, 0, 1, 1, 1]


def test_a_brushed_coat_stands_on_the_cover_and_done_stages_say_so() -> None:
    pages = words_of(report_pdf(sheet_of(disc_result(), pond_plan(seal_kind="brush"))))
    assert "Seal coat, brushed" in pages[0]
    done = pond_plan(done=2, done_pours=(("pond",),))
    assert "pond (done)" in words_of(report_pdf(sheet_of(disc_result(), done)))[-2]


def test_without_a_plan_there_is_the_cover_alone() -> None:
    pages = words_of(report_pdf(plain_sheet()))
    assert len(pages) == 2
    assert "berry" in pages[0]
    assert "Cautions" in pages[1]


@pytest.mark.parametrize("write", [report_pdf, template_pdf])
def test_the_same_sheet_gives_the_same_bytes(write: object) -> None:
    assert callable(write)
    data = write(full_sheet())
    assert data == write(full_sheet())
    assert not re.search(rb"/tmp|/root|/work|/home", data)


def test_names_stay_text() -> None:
    pages = words_of(report_pdf(hostile_sheet()))
    assert "<script>alert(1)</script>&\"'=1+1" in pages[0]
    assert "<script>" in words_of(template_pdf(hostile_sheet()))[0]
    assert len(shortened("x" * 500)) == 90
    assert [page.count("What was measured") for page in pages] == [0, 0, 1, 1, 1]


def test_very_long_names_and_many_pours_still_fit() -> None:
    sheet = full_sheet()
    assert sheet.pours is not None
    stage = sheet.pours.stages[1]
    many = replace(
        stage,
        name=" + ".join(["a name of some length"] * 60),
        pockets=tuple(replace(stage.pockets[0], pour="x" * 3000) for _ in range(60)),
        mixes=stage.mixes * 60,
    )
    pages = words_of(report_pdf(replace(sheet, pours=replace(sheet.pours, stages=(many,)))))
    assert sum(page.count("xxx...") for page in pages) == 60


def dark_runs(line: NDArray[np.uint8]) -> list[tuple[int, int]]:
    """Return where a row or column of grey is dark: (first, after last)."""
    dark = np.concatenate([[False], line < 128, [False]])
    edges = np.flatnonzero(dark[1:] != dark[:-1])
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def middles(lines: Sequence[NDArray[np.uint8]]) -> list[float]:
    """Return the middles of the dark runs, weighed by darkness, of one row or column."""
    (line,) = lines
    ink = 255.0 - line
    return [
        float(np.average(np.arange(a - 1, b + 1), weights=ink[a - 1 : b + 1]))
        for a, b in dark_runs(line)
    ]


def test_the_check_square_is_100_mm_when_measured() -> None:
    dpi = 600.0
    grey = rendered(template_pdf(full_sheet()), 0, dpi)
    # Rows and columns with more than 90 mm of ink belong to the square's sides; the row and the
    # column that are measured lie beside its ticks and its words.
    rows = np.flatnonzero((grey < 128).sum(axis=1) > 90 / 25.4 * dpi)
    columns = np.flatnonzero((grey < 128).sum(axis=0) > 90 / 25.4 * dpi)
    y, x = int(rows[0] + 15.3 / 25.4 * dpi), int(columns[0] + 25.3 / 25.4 * dpi)
    across = middles([grey[y, : int(columns[0] + 110 / 25.4 * dpi)]])
    down = middles([grey[: int(rows[0] + 104 / 25.4 * dpi), x]])
    width_mm = (max(across) - min(across)) / dpi * 25.4
    top = min(d for d in down if d >= rows[0] - 2)
    height_mm = (max(down) - top) / dpi * 25.4
    assert width_mm == pytest.approx(100.0, abs=0.05)
    assert height_mm == pytest.approx(100.0, abs=0.05)


def test_scaling_is_off_when_printed() -> None:
    document = pypdfium2.PdfDocument(template_pdf(full_sheet()))
    assert pypdfium2.raw.FPDF_VIEWERREF_GetPrintScaling(document.raw) == 0
    document.close()


def one_sheet() -> Sheet:
    """Return a circle of 30 mm radius, of two half turns, on a board that fits on one sheet."""
    circle = Outline(np.array([[20.0, 50.0], [80.0, 50.0]]), np.array([1.0, 1.0]))
    return replace(plain_sheet(), board=Board(100.0, 100.0, 20.0), lines=(circle,), pins=())


def test_outlines_are_at_true_scale() -> None:
    dpi = 600.0
    data = template_pdf(one_sheet())
    assert len(words_of(data)) == 2
    grey = rendered(data, 1, dpi)
    mm_px = dpi / 25.4
    column_sums = (grey < 128).sum(axis=0)
    board = [c for c in np.flatnonzero(column_sums > 95 * mm_px) if column_sums[c] < 105 * mm_px]
    rows_sums = (grey < 128).sum(axis=1)
    board_rows = [r for r in np.flatnonzero(rows_sums > 95 * mm_px) if rows_sums[r] < 105 * mm_px]
    middle_row = (board_rows[0] + board_rows[-1]) // 2
    inside = grey[middle_row, board[0] + 20 : board[-1] - 20]
    left, right = middles([inside])
    assert (right - left) / mm_px == pytest.approx(60.0, abs=0.05)
    assert (left + 20) / mm_px == pytest.approx(20.0, abs=0.25)


def test_pins_and_page_numbers_are_there() -> None:
    pages = words_of(template_pdf(full_sheet()))
    assert all(f"page {number}:" in page for number, page in enumerate(pages[1:], 2))
    assert sum(page.count("pin 6 mm") for page in pages) >= len(PINS)


def test_sheets_with_nothing_on_them_are_left_out() -> None:
    wide = replace(one_sheet(), board=Board(1200.0, 900.0, 20.0))
    pages = words_of(template_pdf(wide))
    rows, columns = map(int, re.findall(r"of (\d+)", pages[1])[:2])
    assert len(pages) - 1 < rows * columns
    # The board's edge crosses all sheets around; the circle lies on those at its lower left.
    assert len(pages) - 1 >= 2 * (rows + columns) - 4
    assert f"on {len(pages) - 1} sheets" in pages[0]


@given(st.floats(1, 2500), st.floats(1, 1300), st.floats(-40, 0), st.sampled_from(["mm", "in"]))
def test_tiles_cover_the_board_and_overlap(
    width: float, height: float, low: float, units: str
) -> None:
    paper = Paper.of("in" if units == "in" else "mm")
    area = (low, low, width, height)
    tiling = tile_over(area, paper)
    assert len(tiling.tiles) == tiling.rows * tiling.columns
    wide = tiling.width / 72 * 25.4 - 2 * MARGIN_MM
    tall = tiling.height / 72 * 25.4 - 2 * MARGIN_MM - FOOT_MM
    boxes = {(tile.row, tile.column): tile.box for tile in tiling.tiles}
    first, last = boxes[tiling.rows - 1, 0], boxes[0, tiling.columns - 1]
    assert first[0] <= area[0] + 1e-6
    assert first[1] <= area[1] + 1e-6
    assert last[2] >= area[2] - 1e-6
    assert last[3] >= area[3] - 1e-6
    for (row, column), box in boxes.items():
        assert box[2] - box[0] == pytest.approx(wide)
        assert box[3] - box[1] == pytest.approx(tall)
        if (row, column + 1) in boxes:
            assert box[2] - boxes[row, column + 1][0] == pytest.approx(OVERLAP_MM)
        if (row + 1, column) in boxes:
            assert boxes[row + 1, column][3] - box[1] == pytest.approx(OVERLAP_MM)


@given(st.floats(-1, 1).filter(lambda b: abs(b) > 1e-3), st.floats(0.1, 500))
def test_curves_follow_the_arc(bulge: float, chord: float) -> None:
    start, end = (1.0, 2.0), (1.0 + chord, 2.0)
    # Sagitta and radius of a bulge: s = b c / 2, r = c (1 + b^2) / (4 |b|).
    radius = chord * (1 + bulge**2) / (4 * abs(bulge))
    centre_y = 2.0 + chord * (1 - bulge**2) / (4 * bulge)
    at = start
    seen: list[tuple[float, float]] = []
    for x1, y1, x2, y2, x3, y3 in arc_curves(start, end, bulge):
        for t in np.linspace(0, 1, 9):
            weights = ((1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t**2, t**3)
            x = np.dot(weights, (at[0], x1, x2, x3))
            y = np.dot(weights, (at[1], y1, y2, y3))
            seen.append((float(x), float(y)))
        at = (x3, y3)
    assert at == pytest.approx(end, abs=1e-6 * radius)
    off = [abs(np.hypot(x - 1.0 - chord / 2, y - centre_y) - radius) for x, y in seen]
    assert max(off) <= 3e-4 * radius
    # A positive bulge turns from +x towards +y, so the arc lies below its chord.
    lowest = min(y for _, y in seen) if bulge > 0 else max(y for _, y in seen)
    assert lowest == pytest.approx(2.0 - bulge * chord / 2, abs=2e-2 * chord + 1e-6)
