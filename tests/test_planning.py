"""From a job to the plan of its pours: what a person may write, and what comes of it."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from img2pour import convert
from img2pour.errors import SettingsError
from img2pour.job.reading import load_job, read_job
from img2pour.job.writing import write_job
from img2pour.pipeline import run
from img2pour.plan_settings import FIELDS
from img2pour.results import Result
from img2pour.write.tables import colours_csv
from tests.art.degrade import png
from tests.art.raster import coverage, to_bytes
from tests.pond import HEIGHT_PX, SAND, SEA, SUN, WIDTH_PX, pond_bytes, pond_job, write_pond

FLAT = {"use": ["flat 1/8 in"]}
NO_SEAL = {"kind": "none"}
SUN_MM2, SPOT_MM2 = math.pi * 15**2, math.pi * 6**2


def planned(**sections: Any) -> Result:
    plain: dict[str, Any] = {"bits": FLAT, "seal": NO_SEAL}
    return convert(pond_bytes(), pond_job(**(plain | sections)), extent="planned")


def areas(result: Result) -> dict[str, float]:
    """Return the area of each pour as wished."""
    assert result.planned is not None
    return {pour.name: pour.shape.area for pour in result.planned.layout.pours}


def stages(result: Result) -> list[list[str]]:
    return [[pocket["pour"] for pocket in stage["pockets"]] for stage in result.report["stages"]]


@pytest.mark.parametrize(
    ("rule", "sun_mm2"),
    [
        # Pixels of the upright picture: the spot's middle is at 350, 240; the sun's at 190, 180.
        ({"at": ["350,240"]}, SUN_MM2),
        ({"at": ["190,180"]}, SPOT_MM2),
        ({"colour": "sun", "below": "12 mm"}, SUN_MM2),  # 113.1 mm2 is below 144 mm2
        ({"colour": "sun", "inside": ["300,200", "400,200", "400,290", "300,290"]}, SUN_MM2),
        ({"colour": "#f0c030", "touching": "#153c78", "below": "1 in"}, SUN_MM2),  # 707 > 645 mm2
    ],
)
def test_a_rule_speaks_in_pixels_of_the_picture(rule: dict[str, Any], sun_mm2: float) -> None:
    result = planned(role=[{"role": "wood", **rule}])
    assert areas(result)["sun"] == pytest.approx(sun_mm2, rel=2e-3)  # chords stand for arcs


def test_rules_follow_a_picture_that_is_moved_on_the_board() -> None:
    """A board with a margin moves the artwork; pixels stay what they are."""
    result = planned(
        size={"board": "200 mm x 150 mm", "margin": "10 mm"},
        role=[{"role": "wood", "at": ["190,180"]}],
    )
    assert areas(result)["sun"] == pytest.approx(SPOT_MM2 * (130 / 90) ** 2, rel=2e-3)
    # 130 mm are left of the height: it decides, since 180 mm of width would need 135.


def test_a_rule_makes_a_pour_of_its_own() -> None:
    result = planned(role=[{"role": "pour", "at": ["350,240"], "pour": "spot"}])
    found = areas(result)
    assert found["spot"] == pytest.approx(SPOT_MM2, rel=2e-3)
    assert found["sun"] == pytest.approx(SUN_MM2, rel=1e-3)
    assert stages(result) == [["sea"], ["spot", "sun"]]


def test_what_a_rule_makes_wood_is_wood_everywhere() -> None:
    """In table, regions and plan; the sand takes it in where it touches."""
    whole, ruled = planned(), planned(role=[{"role": "wood", "at": ["350,240"]}])
    rows = [{row["name"]: row for row in one.report["colours"]} for one in (whole, ruled)]
    moved = rows[0]["sun"]["area_mm2"] - rows[1]["sun"]["area_mm2"]
    assert moved == pytest.approx(SPOT_MM2, rel=1e-3)
    assert rows[1]["sand"]["area_mm2"] - rows[0]["sand"]["area_mm2"] == pytest.approx(moved)
    assert [row["sun"]["regions"] for row in rows] == [2, 1]
    assert ruled.regions["sand"].contains(shapely.Point(87.5, 90 - 60))
    # A whole sea of wood joins the sand around it; two suns stay.
    bare = planned(role=[{"role": "wood", "colour": "sea"}])
    assert len(bare.regions["sand"].geoms) == 1
    assert bare.regions["sea"].is_empty
    assert stages(bare) == [["sun"]]


def test_rules_make_wood_where_no_colour_is_wood_and_cut_outside_away() -> None:
    no_wood = {"palette": ["#ecd6a9=sand", "#153c78=sea", "#f0c030=sun"], "wood": "none"}
    rules = [{"role": "wood", "at": ["350,240"]}, {"role": "outside", "at": ["190,180"]}]
    result = planned(colours=no_wood, role=rules)
    rows = {row["name"]: row for row in result.report["colours"]}
    assert rows["bare wood"]["role"] == "wood"
    assert rows["bare wood"]["area_mm2"] == pytest.approx(SPOT_MM2, rel=1e-3)
    assert rows["sun"]["area_mm2"] == 0
    shares = sum(row["area_percent"] for row in result.report["colours"])
    assert shares == pytest.approx(100.0)


def test_wood_that_a_rule_pours_gets_a_pour() -> None:
    result = planned(role=[{"role": "pour", "at": ["10,10"], "pour": "frame"}])
    assert areas(result)["frame"] == pytest.approx(120 * 90 - 90 * 60, rel=1e-3)
    assert "frame" in [name for stage in stages(result) for name in stage]


def test_regions_that_a_rule_pours_have_a_row_a_layer_and_a_colour_of_their_own() -> None:
    """The sand is wood; what a rule pours of it is told apart in every table."""
    result = planned(role=[{"role": "pour", "at": ["10,10"]}])
    rows = {row["name"]: row for row in result.report["colours"]}
    frame_mm2 = 120 * 90 - 90 * 60
    assert rows["sand"]["role"] == "wood"
    assert rows["sand"]["area_mm2"] == 0
    assert rows["sand (poured)"]["role"] == "pour"
    assert rows["sand (poured)"]["area_mm2"] == pytest.approx(frame_mm2, rel=1e-4)
    # Upright walls and sharp outer corners; the flat bit rounds none of the sea's, cut round.
    depth_mm = 3.175
    assert rows["sand (poured)"]["volume_ml"] == pytest.approx(frame_mm2 * depth_mm / 1e3, rel=1e-3)
    assert rows["sand (poured)"]["layer"] == "SAND_POURED"
    assert areas(result)["sand (poured)"] == pytest.approx(frame_mm2, rel=1e-4)
    assert b"sand (poured),#ecd6a9,pour" in colours_csv(result.report)


def test_a_part_of_a_colour_with_a_pour_of_its_own_has_its_row() -> None:
    result = planned(role=[{"role": "pour", "at": ["350,240"], "pour": "spot"}])
    rows = {row["name"]: row for row in result.report["colours"]}
    assert rows["spot"]["area_mm2"] == pytest.approx(SPOT_MM2, rel=1e-3)
    assert rows["sun"]["area_mm2"] == pytest.approx(SUN_MM2, rel=1e-3)
    assert rows["spot"]["hex"] == rows["sun"]["hex"] == "#f0c030"


def test_a_rule_pours_wood_in_the_resin_of_a_colour() -> None:
    """The sand joins the sun: one row, one pour, one mix; with a pour of its own it comes later."""
    joined = planned(role=[{"role": "pour", "at": ["10,10"], "resin": "#f0c030"}])
    rows = {row["name"]: row for row in joined.report["colours"]}
    suns_mm2 = SUN_MM2 + SPOT_MM2 + 120 * 90 - 90 * 60
    assert rows["sun"]["area_mm2"] == pytest.approx(suns_mm2, rel=1e-4)
    assert set(areas(joined)) == {"sea", "sun"}
    rule = {"role": "pour", "at": ["10,10"], "resin": "sun", "pour": "late sun"}
    apart = planned(role=[rule])
    rows = {row["name"]: row for row in apart.report["colours"]}
    assert rows["late sun"]["hex"] == "#f0c030"
    assert set(areas(apart)) == {"sea", "sun", "late sun"}
    assert apart.planned is not None
    assert {pour.name: pour.resin for pour in apart.planned.layout.pours}["late sun"] == "sun"


def test_a_rule_names_a_resin_section() -> None:
    ink = {"colours": ["sea"], "name": "ink", "product": "casting 2:1"}
    result = planned(resin=[ink], role=[{"role": "pour", "at": ["350,240"], "resin": "ink"}])
    assert areas(result)["ink"] == pytest.approx(90 * 60 - SUN_MM2, rel=1e-4)


@pytest.mark.parametrize("resin", ["sand", "gold"])
def test_a_rule_names_a_resin_that_is_poured(resin: str) -> None:
    said = f"role: role rule 1: the resin '{resin}' is none that is poured; there are: sea, sun"
    with pytest.raises(SettingsError, match=re.escape(said)):
        planned(role=[{"role": "pour", "at": ["10,10"], "resin": resin}])


def test_a_rule_that_meets_nothing_is_told() -> None:
    result = planned(role=[{"role": "wood", "colour": "sun", "below": "2 mm"}])
    assert any("role rule 1 (sun below 4 mm2) meets no region" in w for w in result.warnings)


def test_colours_of_one_resin_are_one_pour_without_a_seam() -> None:
    result = planned(
        resin=[{"colours": ["sea", "#f0c030"], "name": "ink", "product": "casting 2:1"}]
    )
    assert areas(result) == {"ink": pytest.approx(90 * 60, rel=1e-4)}
    assert stages(result) == [["ink"]]
    assert result.planned is not None
    (shape,) = result.planned.layout.pours[0].shape.geoms
    assert len(shape.interiors) == 0
    (mix,) = result.report["stages"][0]["mixes"]
    assert (mix["pour"], mix["product"]) == ("ink", "casting 2:1")


def test_an_unknown_colour_of_a_resin_is_told() -> None:
    job = pond_job(colours={"palette": "auto"}, resin=[{"colours": ["azure"]}])
    with pytest.raises(SettingsError, match="the resin speaks of 'azure'; the colours are: "):
        convert(pond_bytes(), job, extent="planned")


def test_a_given_order_is_followed_and_judged() -> None:
    result = planned(pours={"order": ["sun", "sea"]})
    assert stages(result) == [["sun"], ["sea"]]
    order = result.report["plan"]["order"]
    assert order["given"]
    assert order["why"].startswith("given; the rules would choose sea, then sun by the rule '")
    rules = {rule["rule"]: rule for rule in order["rules"]}
    assert all(rule["runner_up"] is not None for rule in rules.values())


def test_an_order_may_name_a_colour_that_is_wood_now() -> None:
    result = planned(pours={"order": ["#f0c030", "sea"]}, role=[{"role": "wood", "colour": "sea"}])
    assert stages(result) == [["sun"]]
    assert "the order names sea, which is not poured as the roles are now" in result.warnings
    assert result.report["plan"]["order"]["given"]


@pytest.mark.parametrize(
    ("kind", "first"),
    [
        ("band", "seal"),
        ("flood", "seal"),
        ("flood board", "seal"),
        ("brush", "pour"),
        ("none", "pour"),
    ],
)
def test_every_kind_of_seal_is_planned(kind: str, first: str) -> None:
    result = planned(seal={"kind": kind})
    assert result.report["stages"][0]["kind"] == first
    chosen = [one["kind"] for one in result.report["plan"]["seals"] if one["chosen"]]
    assert chosen == [kind]
    by_kind = {one["kind"]: one for one in result.report["plan"]["seals"]}
    # The sea's edge with wood: 2 (90 + 60) mm; suns meet none.
    assert by_kind["band"]["edge_mm"] == pytest.approx(300.0, abs=0.2)
    assert by_kind["flood"]["volume_ml"] > by_kind["band"]["volume_ml"]
    assert by_kind["flood board"]["volume_ml"] > by_kind["flood"]["volume_ml"]


def test_a_brushed_coat_is_told_with_what_to_mix() -> None:
    report = planned(seal={"kind": "brush"}).report
    coat = report["plan"]["coat"]
    chosen = next(row for row in report["plan"]["seals"] if row["chosen"])
    assert coat["pour"] == "seal"
    measured = sum(batch["total_ml"] for batch in coat["batches"])
    assert measured == pytest.approx(chosen["volume_ml"], rel=0.05)
    for kind in ("band", "none"):
        assert planned(seal={"kind": kind}).report["plan"]["coat"] is None


def test_lines_that_stand_are_poured_first() -> None:
    """The pour of drawn lines is called line; without the wish it would come last here."""
    named = {"palette": ["#ecd6a9=sand", "#153c78=sea", "#f0c030=line"], "wood": "sand"}
    assert stages(planned(colours=named)) == [["sea"], ["line"]]
    assert stages(planned(colours=named, drawing={"lines": "stand"})) == [["line"], ["sea"]]


def test_a_line_between_two_later_pours_is_left_standing() -> None:
    """A line 1 mm wide that no 1/8 in bit can cut: poured first, it stands, and is not lost."""
    fine: dict[str, Any] = {"bits": FLAT, "seal": NO_SEAL}
    result = convert(line_bytes(), pond_job(**fine), extent="all")
    assert stages(result)[0] == ["sea"]
    assert result.report["removed"] == []
    assert result.report["verdict"]["colours"][-1]["islands_lost"] == 0
    assert result.report["verdict"]["lost_percent"] == 0
    plan = result.report["plan"]
    (line,) = plan["standing_lines"]
    assert (line["pour"], line["stands"]) == ("sea", True)
    assert line["width_mm"] == pytest.approx(1.0, abs=0.02)
    assert line["area_mm2"] == pytest.approx(60.0, rel=0.02)
    by_pour = {loss["pour"]: loss for loss in plan["losses"]}
    assert by_pour["sea"]["kept_mm2"] == pytest.approx(by_pour["sea"]["wished_mm2"], rel=1e-6)
    # Poured last, it would be lost whole.
    late_job = pond_job(**fine, pours={"order": ["sun", "sea"]})
    late = convert(line_bytes(), late_job, extent="planned")
    lost = {loss["pour"]: loss for loss in late.report["plan"]["losses"]}["sea"]
    assert lost["kept_mm2"] < 0.05 * lost["wished_mm2"]
    assert any("small regions of sea" in hint for hint in late.report["plan"]["hints"])


def line_bytes() -> bytes:
    """Return a sun cut in two by an upright line of sea, 1 mm wide and 60 mm long."""
    shapes = [
        (shapely.box(100, 60, 380, 300), SUN),
        (shapely.box(238, 60, 242, 300), SEA),
    ]
    picture = np.broadcast_to(np.array(SAND), (HEIGHT_PX, WIDTH_PX, 3)).copy()
    for shape, colour in shapes:
        covered = coverage([shape], WIDTH_PX, HEIGHT_PX)[..., None]
        picture += covered * (np.array(colour) - picture)
    return png(to_bytes(picture))


def test_a_colour_has_its_own_bits() -> None:
    result = planned(override=[{"colour": "sun", "bits": ["vee 30 deg"]}])
    bits = {
        pocket["pour"]: pocket["bits"]
        for stage in result.report["stages"]
        for pocket in stage["pockets"]
    }
    assert bits == {"sea": ["flat 1/8 in"], "sun": ["vee 30 deg"]}


def test_the_log_changes_waste_and_soak_and_says_so() -> None:
    """100 ml mixed, 20 left, 70 in pockets: 10 went beyond, 20 were allowed; one pour counts half.

    So the factor is 1 + (10 / 20 - 1) / 2 = 0.75: 10 % of waste become 7.5 %.
    """
    note = {"pour": "sea", "mixed_ml": 100, "left_ml": 20, "pocket_ml": 70, "allowed_ml": 20}
    plain, learned = planned(), planned(log=[note])
    assert any(
        "after the log of 1 pour (10 ml went beyond the pockets, 20 ml were allowed): waste 10.0% "
        "becomes 7.5%" in warning
        for warning in learned.warnings
    )

    def batch(result: Result, key: str) -> float:
        value: float = result.report["stages"][0]["mixes"][0]["batches"][0][key]
        return value

    assert batch(learned, "soak_ml") == pytest.approx(0.75 * batch(plain, "soak_ml"))
    assert batch(plain, "waste_ml") == 10.0  # at least
    assert batch(learned, "waste_ml") == 7.5


def test_a_tray_and_a_bed_reach_the_plan() -> None:
    result = planned(blank={"face_below_top": "4 mm", "bed": "80 mm x 100 mm"})
    stage = result.report["stages"][0]
    assert stage["top_mm"] == pytest.approx(19.05 - 4)
    assert stage["pockets"][0]["floor_mm"] == pytest.approx(19.05 - 4 - 3.175)
    assert any("machine's bed 80 x 100 mm" in words for words in result.report["plan"]["findings"])


def test_words_come_in_the_units_that_were_typed() -> None:
    inches = planned(size={"width": "6 in"}, blank={"bed": "4 in x 3 in"})
    (words,) = [one for one in inches.report["plan"]["findings"] if "bed" in one]
    assert words.startswith("the board is 5.98 x 4.49 in") or words.startswith(
        "the board is 6 x 4.49 in"
    )
    assert "bed 4.02 x 2.99 in" in words  # 102 x 76 mm, as the planner rounds them


def test_no_room_for_pins_is_told() -> None:
    result = planned(blank={"margin": "5 mm"})
    assert any("no pins: a margin of 5 mm has no room" in words for words in result.warnings)
    off = planned(blank={"margin": "5 mm", "pins": False})
    assert not any("no pins" in words for words in off.warnings)


# What is done stays.


def run_pond(folder: Path, **sections: Any) -> Path:
    """Run a job and return the job file that it wrote."""
    write_pond(folder / "pond.png")
    job = pond_job(**({"bits": FLAT, "seal": NO_SEAL} | sections))
    run(job, folder / "out", base=folder)
    return folder / "out" / "job.toml"


def edited(path: Path, **sections: dict[str, Any]) -> Result:
    """Change sections of a written job as a person would, and plan again."""
    job = load_job(path)
    for name, values in sections.items():
        part = getattr(job, name)
        new = part.model_copy(update=values) if isinstance(values, dict) else values
        job = job.model_copy(update={name: new})
    checked = read_job(write_job(job))
    return convert(checked.artwork_path(path.parent), checked, extent="planned")


def roles(*rules: dict[str, Any]) -> Any:
    return pond_job(role=list(rules)).role


def test_a_written_job_holds_its_stages(tmp_path: Path) -> None:
    path = run_pond(tmp_path, seal={"kind": "band"})
    assert load_job(path).pours.stages == (("clear",), ("sea",), ("sun",))
    assert 'stages = [["clear"], ["sea"], ["sun"]]' in path.read_text("utf-8")


def test_wood_that_becomes_a_pour_is_poured_around_what_is_done(tmp_path: Path) -> None:
    """The sea is in, the sun was wood: now it is to be poured, in a stage of its own.

    The sea could not go under it: its pocket stays as it was cut, and the sun is cut as deep as
    the first pour, since it cuts no other.
    """
    wood = {"role": "wood", "colour": "sun"}
    path = run_pond(tmp_path, role=[wood])
    before = edited(path)
    assert stages(before) == [["sea"]]
    after = edited(path, pours={"done": 1}, role=())
    assert stages(after) == [["sea"], ["sun"]]
    first, second = after.report["stages"]
    assert first["pockets"][0]["area_mm2"] == before.report["stages"][0]["pockets"][0]["area_mm2"]
    assert first["pockets"][0]["under_later_mm2"] == 0
    assert second["pockets"][0]["depth_mm"] == pytest.approx(3.175)
    assert [stage["done"] for stage in after.report["stages"]] == [True, False]
    # Planned freshly, the sea would go under the sun.
    fresh = edited(path, role=())
    assert fresh.report["stages"][0]["pockets"][0]["under_later_mm2"] > 0
    # What comes next holds on to it again.
    again = after.job_to_keep
    assert again.pours.stages == (("sea",), ("sun",))
    assert again.pours.done == 1


def test_all_wood_turned_into_a_pour_after_the_seal_and_the_first_pour(tmp_path: Path) -> None:
    """The seal that is done stays as it was poured, though no edge with wood is left today."""
    path = run_pond(tmp_path, seal={"kind": "band"})
    before = edited(path)
    late = {"role": "pour", "colour": "sand", "resin": "sun", "pour": "late ground"}
    after = edited(path, pours={"done": 2}, role=roles(late))
    assert [stage[0] for stage in stages(after)][:2] == ["clear", "sea"]
    assert any("late ground" in names for names in stages(after)[2:])
    clear = [result.report["stages"][0]["pockets"][0]["area_mm2"] for result in (before, after)]
    assert clear[1] == pytest.approx(clear[0], rel=1e-9)
    # The sea was cut before the ground was to be poured: it does not go under it.
    sea = [result.report["stages"][1]["pockets"][0]["area_mm2"] for result in (before, after)]
    assert sea[1] == pytest.approx(sea[0], rel=1e-9)


def test_a_pour_that_is_done_comes_first_whatever_the_rules_say(tmp_path: Path) -> None:
    path = run_pond(tmp_path, pours={"order": ["sun", "sea"]})
    after = edited(path, pours={"done": 1, "order": ()})
    assert stages(after) == [["sun"], ["sea"]]
    assert stages(edited(path, pours={"order": ()})) == [["sea"], ["sun"]]


def test_regions_that_join_a_pour_that_is_done_are_told(tmp_path: Path) -> None:
    path = run_pond(tmp_path)
    frame = {"role": "pour", "at": ["10,10"], "resin": "sea"}
    after = edited(path, pours={"done": 1}, role=roles(frame))
    assert any("pours its regions in sea, whose stage is done" in w for w in after.warnings)
    own = edited(path, pours={"done": 1}, role=roles(frame | {"pour": "sea 2"}))
    assert sorted(stages(own)[1]) == ["sea 2", "sun"]  # the frame and the sun do not touch
    assert not any("whose stage is done" in w for w in own.warnings)


def test_a_pour_that_becomes_wood_again_is_told(tmp_path: Path) -> None:
    path = run_pond(tmp_path, seal={"kind": "band"})
    wood = {"role": "wood", "colour": "sun"}
    after = edited(path, pours={"done": 2}, role=roles(wood))
    assert stages(after) == [["clear"], ["sea"]]
    said = "\n".join(after.warnings)
    assert "sun was to be poured over stages that are done and is no pour now" in said
    assert "edges with wood that are new are not sealed" in said


@pytest.mark.parametrize(
    ("pours", "role", "said"),
    [
        ({"done": 3}, (), "3 stages are said to be done, but the plan has only 2"),
        (
            {"done": 1},
            ({"role": "wood", "colour": "sea"},),
            "pours.stages: 'sea' is in stage 1, which is done, but nothing is a pour of that name",
        ),
    ],
)
def test_what_cannot_be_done_is_told(
    tmp_path: Path, pours: dict[str, Any], role: tuple[dict[str, Any], ...], said: str
) -> None:
    path = run_pond(tmp_path)
    with pytest.raises(SettingsError) as caught:
        edited(path, pours=pours, role=roles(*role))
    assert said in str(caught.value)


def test_a_seal_that_was_done_must_stay(tmp_path: Path) -> None:
    path = run_pond(tmp_path, seal={"kind": "band"})
    with pytest.raises(SettingsError, match=r"^pours\.done: done is 2, but "):
        edited(path, pours={"done": 2}, seal=NO_SEAL)


def test_done_without_an_earlier_run_is_as_planned_today() -> None:
    result = planned(pours={"done": 1})
    assert stages(result) == [["sea"], ["sun"]]
    assert [stage["done"] for stage in result.report["stages"]] == [True, False]
    whole = planned()
    (sea,), (sun,) = (stage["mixes"] for stage in whole.report["stages"])
    # Only what is left has to be mixed and paid for.
    reserve = sum(one["cost"] for one in whole.report["plan"]["touch_ups"])
    assert whole.report["plan"]["cost"] == pytest.approx(sea["cost"] + sun["cost"] + reserve)
    assert result.report["plan"]["cost"] == pytest.approx(sun["cost"] + reserve)
    assert result.report["plan"]["products"][0]["pours"] == ["sun"]
    assert result.report["plan"]["schedule"]["days"] < whole.report["plan"]["schedule"]["days"]
    with pytest.raises(SettingsError, match=r"pours\.done: 4 stages are said to be done"):
        planned(pours={"done": 4})


def test_every_field_that_a_fault_names_is_there() -> None:
    job = pond_job()
    for path in FIELDS.values():
        section, key = path.split(".")
        assert hasattr(getattr(job, section), key), path
