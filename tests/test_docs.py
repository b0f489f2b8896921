"""What the README says is so."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from img2pour.cli import main

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text()


def test_every_command_is_in_the_table_and_has_help() -> None:
    for name in main.commands:
        assert f"`img2pour {name}" in README, name
        shown = CliRunner().invoke(main, [name, "--help"])
        assert shown.exit_code == 0
        assert main.commands[name].help


def test_every_command_in_the_readme_exists() -> None:
    named = set(re.findall(r"^(?:\$ |\| `)?img2pour ([a-z]+) ", README, re.MULTILINE))
    assert len(named) > 3
    assert named <= set(main.commands)


@pytest.mark.parametrize("option", sorted(set(re.findall(r"`(--[a-z-]+)", README)) - {"--help"}))
def test_every_option_in_the_readme_exists(option: str) -> None:
    known = {flag for command in main.commands.values() for p in command.params for flag in p.opts}
    assert option in known


def test_every_picture_in_the_readme_is_there() -> None:
    pictures = re.findall(r"\]\(([^)]+\.(?:png|jpg))\)", README)
    assert pictures
    assert all((ROOT / picture).is_file() for picture in pictures)


def test_the_python_example_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    (code,) = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
    names: dict[str, object] = {}
    exec(code, names)
    result = names["result"]
    assert result.regions["royalblue"].area > 0


def test_the_guide_names_what_exists() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text()
    for name in re.findall(r"`([a-z_/]+(?:\.py|/))`", guide):
        found = ROOT / name if (ROOT / name).exists() else ROOT / "img2pour" / name
        assert found.exists(), name
