"""Bad job files in the sections of pours: each with one line that names the field."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from img2pour.cli import main
from img2pour.errors import Img2PourError, SettingsError
from img2pour.job.faults import JobError
from img2pour.job.reading import read_job
from img2pour.pipeline import convert
from tests.pond import pond_bytes, pond_job, write_pond

LISTED = '[colours]\npalette = ["#ecd6a9=sand", "#153c78=sea"]\n'

BAD_FILES = [
    # [blank]
    ('[blank]\nmargin = "-1 in"', "line 2: blank.margin: '-1 in' must not be below 0"),
    ("[blank]\npins = 2", "line 2: blank.pins: '2' is neither true nor false"),
    ('[blank]\npin_width = "0 mm"', "line 2: blank.pin_width: '0 mm' must be above 0"),
    ('[blank]\nbed = "32 in"', "line 2: blank.bed: '32 in' is not a board; write width x height"),
    (
        '[blank]\nface_below_top = "17 mm"',
        "line 2: blank.face_below_top: 17 mm below the top of a board 3/4 in thick leaves 2.05 mm "
        "for pockets 1/8 in deep",
    ),
    # [board]
    (
        '[board]\nspecies = "mapel"',
        "line 2: board.species: 'mapel' is not in the table of woods; there are: white oak, ",
    ),
    ('[board]\nspecies = "hard mapel"', "hard maple (did you mean hard maple?)"),
    ("[board]\nmoisture_from = 31.0", "line 2: board.moisture_from: '31.0' must be at most 30"),
    ("[board]\nmoisture_to = -1.0", "line 2: board.moisture_to: '-1.0' must be at least 0"),
    # [pours]
    ('[pours]\norder = "navy"', "line 2: pours.order: 'navy' is not a list; write it in square"),
    ('[pours]\norder = ["a", "b", "a"]', "line 2: pours.order 3: 'a' is there twice; name each"),
    (
        LISTED + '[pours]\norder = ["see", "sand"]',
        "line 4: pours.order 1: 'see' is none of the pours: 'sand', 'sea' (did you mean sea?)",
    ),
    ("[pours]\ndone = -1", "line 2: pours.done: '-1' must be at least 0"),
    ('[pours]\ndone = "two"', "line 2: pours.done: 'two' is not a number; write it without quotes"),
    (
        '[pours]\ndone = 2\nstages = [["clear"]]',
        "line 2: pours.done: 2 stages are said to be done, but the plan has only 1",
    ),
    (
        '[pours]\nstages = [["clear"], ["a", "b"], ["a"]]',
        "line 2: pours.stages 2: 'a' is there twice; each pour is poured once",
    ),
    ('[pours]\ngap = "3"', "line 2: pours.gap: '3' has no unit"),
    ('[pours]\nunderlap = "2 in"', None),
    ('[pours]\nunderlap = "20 in"', "line 2: pours.underlap: 20 in must be at most 100 mm"),
    ('[pours]\nshallower = "1 in"', "line 2: pours.shallower: 1 in must be at most 10 mm"),
    ("[pours]\nthrough = 1", "line 2: pours.through: '1' is neither true nor false"),
    # [seal]
    ('[seal]\nkind = "bend"', "'bend' is not allowed; use band, flood, flood board, brush or none"),
    ('[seal]\nborder = "0.2 mm"', "line 2: seal.border: 0.2 mm is below 0.4 mm, the least that"),
    ('[seal]\nborder = "4 mm"', "line 2: seal.border: 4 mm is half of the channel that 'flat 1/4"),
    ('[seal]\nbit = "vee 30 deg"', "line 2: seal.bit: the seal's channel needs a flat bit"),
    ('[seal]\nbit = "drill"', "line 2: seal.bit: bit 'drill' starts with none of flat, vee"),
    ('[seal]\ncoat_of = "varnish"', "line 2: seal.coat_of: 'varnish' is not allowed; use resin or"),
    # [mixing]
    ('[mixing]\nresin = "glue"', "line 2: mixing.resin: there is no resin 'glue'; there are: tab"),
    ('[mixing]\nclear = "glue"', "line 2: mixing.clear: there is no resin 'glue'"),
    ('[mixing]\noverfill = "3 in"', "line 2: mixing.overfill: 3 in must be at most 20 mm"),
    ('[mixing]\nsoak = "6 mm"', "line 2: mixing.soak: 6 mm must be at most 5 mm"),
    ('[mixing]\nwaste = "120 %"', "line 2: mixing.waste: '120 %' is not between 0 % and 100 %"),
    ("[mixing]\nleast_waste_ml = -1", "line 2: mixing.least_waste_ml: '-1' must be at least 0"),
    ("[mixing]\nleast_batch_ml = 1e9", "'1000000000.0' must be at most 100000"),
    # [shop]
    ("[shop]\ntemperature_c = 70", "line 2: shop.temperature_c: '70' must be at most 40"),
    ("[shop]\nworkday_hours = 0", "line 2: shop.workday_hours: '0' must be above 0"),
    ('[shop]\nface = "wax"', "line 2: shop.face: 'wax' is not allowed; use coat, masking or none"),
    # [[resin]]
    ("[[resin]]\ncolours = []", "line 2: resin 1.colours: no colours are listed; name at least"),
    ('[[resin]]\nname = "ink"', "line 1: resin 1.colours: is missing"),
    (
        '[[resin]]\ncolours = ["a"]\n[[resin]]\ncolours = ["b", "a"]',
        "line 4: resin 2.colours 2: 'a' has a resin already; a colour is cast in one",
    ),
    (
        '[[resin]]\ncolours = ["a"]\nname = "ink"\n[[resin]]\ncolours = ["b"]\nname = "ink"',
        "line 6: resin 2.name: 'ink' is there twice; put all its colours into one [[resin]]",
    ),
    (
        '[[resin]]\ncolours = ["a"]\nproduct = "glue"',
        "line 3: resin 1.product: there is no resin 'glue'",
    ),
    (
        LISTED + '[[resin]]\ncolours = ["sae"]',
        "line 4: resin 1.colours 1: 'sae' is none of the colours: 'sand', 'sea' (did you mean",
    ),
    # [[role]]
    ('[[role]]\nrole = "wood"', "line 1: role 1: the rule names no regions; give colour, inside"),
    ('[[role]]\ncolour = "a"', "line 1: role 1.role: is missing"),
    ('[[role]]\nrole = "paint"\ncolour = "a"', "'paint' is not allowed; use pour, wood or outside"),
    (
        '[[role]]\nrole = "wood"\ninside = ["1,2", "3,4"]',
        "line 3: role 1.inside: a polygon has 3 corners or more, 2 given",
    ),
    ('[[role]]\nrole = "wood"\nat = ["here"]', "line 3: role 1.at 1: 'here' is not a point; write"),
    ('[[role]]\nrole = "wood"\nbelow = "0 mm"', "line 3: role 1.below: '0 mm' must be above 0"),
    (
        '[[role]]\nrole = "wood"\ncolour = "a"\npour = "b"',
        "line 4: role 1.pour: 'b' is named as a pour, but the role is wood",
    ),
    (
        '[[role]]\nrole = "wood"\ncolour = "a"\nresin = "b"',
        "line 4: role 1.resin: 'b' is named as a resin, but the role is wood; write role",
    ),
    (
        '[[role]]\nrole = "pour"\ncolour = "a"\npour = " "',
        "line 4: role 1.pour: the name of a pour is empty",
    ),
    (
        LISTED + '[[role]]\nrole = "wood"\ntouching = "sky"',
        "line 5: role 1.touching: 'sky' is none of the colours: 'sand', 'sea'",
    ),
    ('role = "wood"', "line 1: role: 'wood' stands where a list of sections belongs; write [[role"),
    # [[log]]
    (
        '[[log]]\npour = "a"\nmixed_ml = 50\nleft_ml = 60\npocket_ml = 40\nallowed_ml = 5',
        "line 4: log 1.left_ml: 60 ml are left of 50 ml mixed; give 0 to 50",
    ),
    (
        '[[log]]\npour = "a"\nmixed_ml = 0\nleft_ml = 0\npocket_ml = 40\nallowed_ml = 5',
        "line 3: log 1.mixed_ml: '0' must be above 0",
    ),
]


@pytest.mark.parametrize(("text", "said"), BAD_FILES)
def test_a_bad_file_is_told_in_one_line(text: str, said: str | None) -> None:
    if said is None:
        read_job(text)
        return
    with pytest.raises(JobError) as caught:
        read_job(text)
    (line,) = str(caught.value).splitlines()
    assert line.startswith("job.toml, line ")
    assert said in line


# What only the picture can tell: found while the pours are planned.
FREE = {"palette": "auto"}
TOLD_LATER: list[tuple[dict[str, Any], str]] = [
    ({"pours": {"order": ["navy"]}}, "pours.order: there is no pour 'navy'; there are: "),
    ({"pours": {"done": 9}}, "pours.done: 9 stages are said to be done, but the plan has only 3"),
    ({"resin": [{"colours": ["navy"]}]}, "resin.colours: the resin speaks of 'navy'; the colours"),
    ({"role": [{"role": "wood", "colour": "navy"}]}, "role: role rule 1: colour is 'navy'; the co"),
    (
        {"role": [{"role": "wood", "touching": "navy"}]},
        "role: role rule 1: touching is 'navy'; the colours are: ",
    ),
    (
        {"mixing": {"table": "mine.toml"}},
        "mixing.table: mine.toml, line 2: 'glue' is new, so it also needs: parts_by_volume (or",
    ),
    (
        {"mixing": {"table": "good.toml", "resin": "glue"}},
        "mixing.resin: there is no resin 'glue'; there are: table-top 1:1",
    ),
]


@pytest.mark.parametrize(("sections", "said"), TOLD_LATER)
def test_what_the_picture_decides_is_told_by_its_field(
    tmp_path: Path, sections: dict[str, Any], said: str
) -> None:
    (tmp_path / "mine.toml").write_text('[[resin]]\nname = "glue"\n')
    (tmp_path / "good.toml").write_text('[[resin]]\nname = "casting 2:1"\nprice_per_litre = 9\n')
    job = pond_job(**({"colours": FREE} | sections))
    with pytest.raises(SettingsError) as caught:
        convert(pond_bytes(), job, base=tmp_path, extent="planned")
    (line,) = str(caught.value).splitlines()
    assert line.startswith(said)
    assert not isinstance(caught.value, JobError)
    assert isinstance(caught.value, Img2PourError)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--order", "sea,sea"], "error: --order: 'sea' is there twice"),
        (["--order", "navy"], "error: pours.order: there is no pour 'navy'"),
        (["--done", "-1"], "error: --done: '-1' must be at least 0"),
        (["--done", "7"], "error: pours.done: 7 stages are said to be done"),
        (["--seal", "foam"], "error: --seal: 'foam' is not allowed"),
        (["--border", "0.1mm"], "error: --border: 0.1 mm is below 0.4 mm"),
        (["--resin", "glue"], "error: --resin: there is no resin 'glue'"),
        (["--resin-table", "none.toml"], "error: the table of resins 'none.toml' cannot be read"),
    ],
)
def test_options_are_told_by_their_names(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, options: list[str], said: str
) -> None:
    write_pond(tmp_path / "pond.png")
    monkeypatch.chdir(tmp_path)
    ran = CliRunner().invoke(main, ["run", "pond.png", "--width", "120mm", "-o", "out", *options])
    assert ran.exit_code == 2
    (line,) = [line for line in ran.output.splitlines() if line.startswith("error:")]
    assert line.startswith(said)
    assert not (tmp_path / "out").exists()
