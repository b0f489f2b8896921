"""Drawings that mean harm or are broken: clear words, nothing fetched, nothing endless."""

from __future__ import annotations

import socket

import numpy as np
import pytest

from img2pour.compose.drawing import drawn_fills
from img2pour.compose.dxf_drawing import read_dxf
from img2pour.compose.svg_drawing import read_svg
from img2pour.errors import SettingsError
from tests.test_compose_board import composed
from tests.test_compose_drawings import PAGE, dxf_area, fills_of, new_dxf, written


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_args: object) -> None:
        raise AssertionError("something was fetched")

    monkeypatch.setattr(socket.socket, "connect", refuse)


@pytest.mark.parametrize("drawn", [True, False])
def test_blocks_that_hold_ten_of_each_other_are_refused(drawn: bool) -> None:
    document, space = new_dxf()
    inner = document.blocks.new("B0")
    if drawn:
        inner.add_circle((0, 0), 1)
    for k in range(1, 15):
        block = document.blocks.new(f"B{k}")
        for j in range(10):
            block.add_blockref(f"B{k - 1}", (3 * j, 0))
    space.add_blockref("B14", (0, 0))
    with pytest.raises(SettingsError, match="more than 20000 blocks"):
        read_dxf(written(document), "art.dxf")


def test_rows_and_columns_of_a_block() -> None:
    document, space = new_dxf()
    document.blocks.new("B").add_circle((0, 0), 1)
    many = {"column_count": 3, "row_count": 2, "column_spacing": 10, "row_spacing": 10}
    space.add_blockref("B", (0, 0), dxfattribs=many)
    assert dxf_area(document)[0] == pytest.approx(6 * np.pi, rel=1e-9)
    space.add_blockref("B", (0, 0), dxfattribs=many | {"column_count": 30_000, "row_count": 30_000})
    with pytest.raises(SettingsError, match="more than 20000 blocks"):
        dxf_area(document)


def test_a_block_that_holds_itself_or_lies_elsewhere_is_named() -> None:
    document, space = new_dxf()
    space.add_circle((0, 0), 1)
    loop = document.blocks.new("LOOP")
    loop.add_blockref("LOOP", (1, 0))
    space.add_blockref("LOOP", (0, 0))
    space.add_blockref("GONE", (7, 8))
    document.add_xref_def("other.dxf", "ELSEWHERE")
    space.add_blockref("ELSEWHERE", (5, 6))
    said = {finding.reason: finding.at for finding in dxf_area(document)[1].findings}
    assert "1 blocks are missing from the file and are left out" in said
    assert said["the block 'ELSEWHERE' lies in another file or is missing; it is left out"] == (
        5,
        6,
    )
    assert any("'LOOP' holds itself" in reason for reason in said)


def test_what_lies_on_layer_0_in_a_block_takes_the_layer_of_the_block() -> None:
    document, space = new_dxf()
    document.layers.add("RED", true_color=0xC80000)
    block = document.blocks.new("B")
    block.add_circle((0, 0), 1)
    space.add_blockref("B", (0, 0), dxfattribs={"layer": "RED"})
    assert dxf_area(document, layers=["RED"])[1].colours() == ("#c80000",)


def test_texts_are_told_with_their_place_and_the_rest_by_kind() -> None:
    document, space = new_dxf()
    space.add_circle((0, 0), 1)
    space.add_text("HARBOUR", dxfattribs={"insert": (3, 4)})
    space.add_mtext("HOUSE", dxfattribs={"insert": (7, 8)})
    space.add_hatch()
    for x in (5, 6):
        space.add_point((x, 1))
    said = [(one.reason, one.at) for one in dxf_area(document)[1].findings]
    assert [at for reason, at in said if "'HARBOUR' is left out; set it as [[text]]" in reason] == [
        (3, 4)
    ]
    assert [at for reason, at in said if "'HOUSE'" in reason] == [(7, 8)]
    assert ("1 of the kind HATCH hold no closed outline; left out", None) in said
    assert [at for reason, at in said if reason.startswith("2 of the kind POINT")] == [(5, 1)]


def test_numbers_that_are_none_or_vast() -> None:
    document, space = new_dxf()
    nan, inf = float("nan"), float("inf")
    space.add_lwpolyline([(0, 0, nan), (10, 0, 0), (10, 10, inf)], format="xyb", close=True)
    space.add_circle((0, 0), inf)
    space.add_lwpolyline([(0, 0), (1e300, 0), (1e300, 1e300)], close=True)
    space.add_circle((50, 50), 5)
    area, fills = dxf_area(document)
    assert area == pytest.approx(25 * np.pi, rel=1e-9)
    said = [finding.reason for finding in fills.findings]
    assert sum("numbers that cannot be read" in reason for reason in said) == 2
    assert sum("farther than any board" in reason for reason in said) == 1
    fills = fills_of('<path d="M0 0L1e300 0 1e300 1e300z"/><rect width="5" height="5"/>')
    assert len(fills.shapes) == 1
    assert "farther than any board" in fills.findings[0].reason


def test_open_outlines_alone_are_refused_with_their_places() -> None:
    document, space = new_dxf()
    space.add_lwpolyline([(0, 0), (10, 0), (10, 10)])
    with pytest.raises(SettingsError, match=r"is open here and is left out, at 10, 10\)"):
        dxf_area(document)


def test_a_page_of_a_thousand_kilometres_asks_for_a_size(tmp_path) -> None:
    (tmp_path / "a.svg").write_text(
        '<svg width="1e9mm" height="1e9mm" viewBox="0 0 1000 1000"><rect width="0.1" height="0.1"/>'
        '<rect x="500" width="9" height="9"/></svg>'
    )
    with pytest.raises(SettingsError, match="give its width or height"):
        composed('[[art]]\nfile = "a.svg"', base=tmp_path)
    assert composed('[[art]]\nfile = "a.svg"\nwidth = "50 mm"', base=tmp_path).names[1]


def test_uses_that_multiply_are_refused() -> None:
    groups = "".join(
        f'<g id="a{k}">{f"<use href={chr(34)}#a{k - 1}{chr(34)}/>" * 10}</g>' for k in range(1, 12)
    )
    body = f'<defs><rect id="a0" width="1" height="1"/>{groups}</defs><use href="#a11"/></svg>'
    with pytest.raises(SettingsError, match="uses too much"):
        read_svg((PAGE + body).encode(), "art.svg")


def test_clips_are_told_and_never_fetched() -> None:
    fills = fills_of(
        '<clipPath id="c"><circle cx="5" cy="5" r="2"/></clipPath>'
        '<rect x="3" y="4" width="10" height="10" clip-path="url(#c)"/>'
        "<style>@import url(http://example.org/a.css);</style>"
        '<image href="file:///etc/hostname" width="1" height="1"/>'
    )
    assert len(fills.shapes) == 1
    said = [finding.reason for finding in fills.findings]
    assert "rect is clipped or masked; the clip is not applied" in said


def test_a_hundred_thousand_points_are_read() -> None:
    angles = np.linspace(0, 2 * np.pi, 100_000, endpoint=False)
    x, y = 50 + 30 * np.cos(angles), 40 + 30 * np.sin(angles)
    points = " ".join(f"{a:.6f},{b:.6f}" for a, b in zip(x.tolist(), y.tolist(), strict=True))
    fills = fills_of(f'<polygon points="{points}"/>')
    assert sum(len(bulges) for own in fills.outlines for _, bulges in own) > 90_000
    assert not fills.findings


def test_more_pieces_than_any_board_needs_are_refused(monkeypatch) -> None:
    monkeypatch.setattr("img2pour.compose.drawing.MOST_PIECES", 1000)
    body = f'<path d="M0 0{"h1v1h-1z" * 400}"/>'
    with pytest.raises(SettingsError, match=r"lines and arcs, more than 1000; simplify"):
        drawn_fills(read_svg(f"{PAGE}{body}</svg>".encode(), "art.svg"), 1.0)
