"""Imports point one way: geometry knows no files, nothing knows the command line."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "img2pour"
ENDS = {"cli", "cli_options", "terminal", "batch", "__main__"}
FRONT = {"pipeline", "table", "steps", "results", "outputs", "shop_files"}

MAY_NOT = {
    "plane": ENDS | FRONT | {"job", "carve", "pours", "write", "light", "straighten", "sketch"},
    "colours": ENDS | FRONT | {"job", "carve", "pours", "write", "plane"},
    "light": ENDS | FRONT | {"job", "carve", "pours", "write", "plane"},
    "straighten": ENDS | FRONT | {"job", "carve", "pours", "write", "plane"},
    "carve": ENDS | FRONT | {"pours", "write", "light", "straighten", "sketch"},
    "pours": ENDS | FRONT | {"write", "light", "straighten", "sketch"},
    # The job asks the table of resins whether a name is known.
    "job": ENDS | FRONT | {"carve", "write", "plane", "light", "straighten", "sketch"},
    "write": ENDS | {"pipeline", "table", "steps"},
}


def imported(path: Path) -> set[str]:
    """Return the parts of the package that a file imports to run, not only for types."""
    tree = ast.parse(path.read_text())
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            node.body = [ast.Pass()]
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("img2pour."):
            found.add((node.module or "").split(".")[1])
    return found


@pytest.mark.parametrize("part", MAY_NOT)
def test_imports_point_one_way(part: str) -> None:
    wrong = {
        f"{path.relative_to(PACKAGE)} imports {name}"
        for path in (PACKAGE / part).rglob("*.py")
        for name in imported(path) & MAY_NOT[part]
    }
    assert wrong == set()


def test_only_the_ends_know_the_command_line() -> None:
    wrong = {
        f"{path.relative_to(PACKAGE)} imports {name}"
        for path in PACKAGE.rglob("*.py")
        for name in imported(path) & ENDS
        if path.stem not in ENDS
    }
    assert wrong == set()


def test_the_check_sees_an_import(tmp_path: Path) -> None:
    file = tmp_path / "wrong.py"
    file.write_text("def late():\n    from img2pour.cli import main\n    return main\n")
    assert imported(file) == {"cli"}
