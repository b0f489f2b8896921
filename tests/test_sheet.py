"""The values on the work sheet against the result and the plan they come from."""

import math
from pathlib import Path

import numpy as np
import pytest

from img2pour.job.build import make_job
from img2pour.pipeline import check
from img2pour.write import words
from img2pour.write.dxf import DxfSettings
from img2pour.write.make_pours import PourNames, stage_drawings, wet_hex
from img2pour.write.make_sheet import picture_of, sheet_of
from img2pour.write.stage_drawings import stages_dxf
from tests.sheets import (
    DISC_JOB,
    RADIUS_MM,
    disc_picture,
    disc_result,
    full_sheet,
    plain_sheet,
    pond_plan,
)


def test_without_a_plan_the_sheet_holds_the_main_job() -> None:
    sheet = plain_sheet()
    assert sheet.pours is None
    assert sheet.title == "pond & reeds"
    assert [(line.name, line.role) for line in sheet.colours] == [
        ("oak", "wood"),
        ("pond", "pour"),
        ("berry", "pour"),
    ]
    pond = sheet.colours[1]
    assert pond.area_mm2 == pytest.approx(math.pi * RADIUS_MM**2, rel=2e-3)
    assert len(sheet.cautions) >= 8
    assert any("data sheets" in caution.text for caution in sheet.cautions)


def test_what_was_removed_is_numbered_and_placed_from_the_zero() -> None:
    sheet = plain_sheet()
    (line,) = sheet.removed
    assert (line.colour, line.count) == ("berry", 1)
    # The speck: 2 mm in radius, centre 50 mm from the left and 150 mm from below.
    assert line.area_mm2 == pytest.approx(math.pi * 4, rel=0.1)
    (place,) = sheet.places
    assert place.number == 1
    assert place.at_mm == pytest.approx((50.0, 150.0), abs=1.0)
    assert place.width_mm == pytest.approx(4.0, rel=0.05)
    assert sheet.losses is not None
    (centred,) = sheet_of(disc_result(zero="centre")).places
    assert centred.at_mm == pytest.approx((50.0 - 150.0, 150.0 - 100.0), abs=1.0)


def test_each_boundary_stands_once_on_the_template() -> None:
    total = 0.0
    for outline in plain_sheet().lines:
        steps = np.hypot(*np.diff(outline.vertices, axis=0).T)
        half = 2 * np.arctan(np.abs(outline.bulges[:-1]))
        arc = np.where(half > 0, half / np.where(half > 0, np.sin(half), 1.0), 1.0)
        total += float((steps * arc).sum())
    assert total == pytest.approx(2 * math.pi * RADIUS_MM, rel=1e-3)


def test_stages_carry_the_figures_of_the_plan() -> None:
    plan, sheet = pond_plan(), full_sheet()
    assert sheet.pours is not None
    assert [(s.number, s.kind) for s in sheet.pours.stages] == [
        (1, "seal"),
        (2, "pour"),
        (3, "pour"),
    ]
    for stage, planned, mixes in zip(sheet.pours.stages, plan.stages, plan.mixes, strict=True):
        assert stage.top_mm - stage.depth_mm == pytest.approx(stage.floor_mm)
        assert [p.pour for p in stage.pockets] == [p.pour for p in planned.pockets]
        for mix, known in zip(stage.mixes, mixes, strict=True):
            assert sum(b.total_ml for b in mix.batches) == pytest.approx(known.total_ml)
            assert mix.cost == known.cost
    # 2:1 by volume at 1.15 and 0.98 g/ml is 100 : 42.61 by weight: 0.98 / (2 x 1.15).
    assert sheet.pours.stages[1].mixes[0].parts_by_weight[1] == pytest.approx(42.61, abs=0.005)
    assert sheet.pours.total_ml == pytest.approx(sum(t.total_ml for t in plan.totals))
    assert [seal.chosen for seal in sheet.pours.seals] == [True, False, False, False, False]


def test_layers_are_those_of_the_drawings() -> None:
    plan, sheet = pond_plan(), full_sheet()
    assert sheet.pours is not None
    drawn = stages_dxf(stage_drawings(plan, PourNames({}, "#c8a06a")), sheet.board, DxfSettings())
    layers = [pocket.layer for stage in sheet.pours.stages for pocket in stage.pockets]
    assert layers == ["S01_CLEAR", "S02_POND", "S03_LILY"]
    assert all(f"\n{layer}\n" in drawn.decode("ascii").replace("\r", "") for layer in layers)


def test_a_cut_through_the_stages_is_what_arithmetic_says() -> None:
    (section,) = full_sheet().sections
    by_title = {fill.title: fill.outline for fill in section.fills if fill.title != "clear"}
    lily = [x for x, _ in by_title["lily"]]
    # The pond runs from 50 to 250 mm; the cut meets the lily on a chord of its circle.
    assert 120.0 <= min(lily) < max(lily) <= 180.0
    left = min(x for fill in section.fills if fill.title == "pond" for x, _ in fill.outline)
    assert left == pytest.approx(50.0, abs=0.01)
    depths = {round(section.thickness_mm - y, 3) for _, y in by_title["lily"]}
    assert depths == {0.0, round(pond_plan().stages[2].depth_mm, 3)}


def test_numbers_stand_on_their_own_pockets() -> None:
    sheet = full_sheet()
    assert sheet.pours is not None
    lily = sheet.pours.stages[2].mixes[0]
    assert [fill.place for fill in lily.fills] == ["1"]
    assert not lily.fills[0].is_drop


def test_names_without_a_colour_are_grey_and_clear_is_wet_wood() -> None:
    names = PourNames.of([], {"lily": "#f5f0ff"}, "#c8a06a")
    assert names.hex("lily") == "#f5f0ff"
    assert names.hex("unheard of") == "#8a8a8a"
    assert names.hex("clear") == wet_hex("#c8a06a") == "#ac8a5b"


def test_the_size_of_a_picture_is_read_from_its_bytes() -> None:
    shown = plain_sheet().finished
    again = picture_of(shown.data, "words")
    assert (again.width_px, again.height_px) == (1400, 944)


@pytest.mark.parametrize(
    ("shown", "text"),
    [
        (words.plain(2.50), "2.5"),
        (words.plain(-0.01), "0"),
        (words.plain(30.0), "30"),
        (words.grams(17.25001), "17.3 g"),
        (words.millilitres(0.01), "under 0.1 ml"),
        (words.millilitres(0.0), "0 ml"),
        (words.millilitres(118.6), "119 ml"),
        (words.fluid_ounces(29.5735295625), "1.00 fl oz"),  # NIST Handbook 44, Appendix C
        (words.ounce_marks(1.5), "1 1/2 fl oz"),
        (words.ounce_marks(0.875), "7/8 fl oz"),
        (words.ounce_marks(0.0), "0 fl oz"),
        (words.hours(0.75), "45 min"),
        (words.hours(48.0), "48 h"),
        (words.days(1.0), "1 day"),
        (words.days(2.5), "2.5 days"),
        (words.percent(100.0), "100 %"),
        (words.percent(99.99), "99.9 %"),
        (words.percent(0.01), "below 0.1 %"),
        (words.percent(0.0), "0 %"),
        (words.ratio((100.0, 42.61)), "100 : 42.61"),
        (words.span(3.175, "mm"), "3.175 mm"),
        (words.span(3.175, "in"), "0.125 in (3.175 mm)"),
        (words.span(1427.5, "in"), "56.2 in (1428 mm)"),
        (words.size(533.4, 361.95, "in"), "21 x 14.25 in"),
        (words.size(300.0, 200.0, "mm"), "300 x 200 mm"),
        (words.place((25.4, 50.8), "in"), "1.00, 2.00 in"),
        (words.place((25.4, -50.8), "mm"), "25.4, -50.8 mm"),
        (words.lost(0.01, "in"), "none"),
        (words.lost(150.0, "mm"), "1.50 cm2"),
    ],
)
def test_figures_in_words(shown: str, text: str) -> None:
    assert shown == text


def test_a_brushed_seal_has_its_mix_and_stages_that_are_done_say_so() -> None:
    brushed = sheet_of(disc_result(), pond_plan(seal_kind="brush")).pours
    assert brushed is not None
    assert brushed.coat is not None
    assert brushed.coat.cost == pytest.approx(
        next(seal.cost for seal in brushed.seals if seal.chosen)
    )
    assert full_sheet().pours.coat is None  # type: ignore[union-attr]
    done = sheet_of(disc_result(), pond_plan(done=2, done_pours=(("pond",),))).pours
    assert done is not None
    assert [stage.is_done for stage in done.stages] == [True, True, False]


def test_edge_that_stays_bare_is_listed_from_the_zero() -> None:
    bare = sheet_of(disc_result(), pond_plan(seal_kind="none")).pours
    centred = sheet_of(disc_result(zero="centre"), pond_plan(seal_kind="none")).pours
    assert bare is not None
    assert centred is not None
    # All of the pond's outline: 2 x (200 + 120) mm.
    assert sum(spot.size_mm for spot in bare.bare_edges) == pytest.approx(640.0, abs=0.01)
    for one, two in zip(bare.bare_edges, centred.bare_edges, strict=True):
        assert two.at_mm == pytest.approx((one.at_mm[0] - 150, one.at_mm[1] - 100))


def test_places_of_the_verdict_are_those_of_the_marks(tmp_path: Path) -> None:
    (tmp_path / "pond.png").write_bytes(disc_picture())
    sections = {**DISC_JOB, "artwork": {"file": "pond.png"}, "output": {"zero": "centre"}}
    result = check(make_job(**sections), base=tmp_path)
    sheet = sheet_of(result)
    assert sheet.verdict is not None
    assert sheet.losses is not None
    assert len(sheet.places) == len(result.marks) > 0
    (speck,) = [place for place in sheet.places if "whole region" in place.what]
    assert speck.what.startswith("berry")
    assert speck.at_mm == pytest.approx((50.0 - 150.0, 150.0 - 100.0), abs=0.1)
    assert speck.width_mm == pytest.approx(4.0, abs=0.1)


def test_drawings_have_the_names_of_the_output_folder() -> None:
    pours = sheet_of(disc_result(dxf="R12"), pond_plan()).pours
    assert pours is not None
    assert pours.stages[1].file == "carve/stage-2-pond-mm.dxf"
