"""Steps that are run side by side share what they need and keep their results."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import pytest

from img2pour.errors import SettingsError
from img2pour.job import make_job
from img2pour.steps import Step, Workbench, as_table


def bench_of(*steps: Step) -> Workbench:
    return Workbench(as_table(steps), None, "source", make_job(), Path())


def test_steps_side_by_side_wait_for_each_other_and_run_what_they_share_once() -> None:
    both = threading.Barrier(2, timeout=20)  # passes only when both run at once

    def half(bench: Workbench, ground: int) -> int:
        return ground + both.wait() * 0 + 1

    bench = bench_of(
        Step("ground", lambda bench: 41),
        Step("left", half, ("ground",)),
        Step("right", half, ("ground",)),
    )
    assert bench.get_beside(("left", "right")) == [42, 42]
    assert sorted(bench.ran) == ["ground", "left", "right"]
    assert bench.ran[0] == "ground"
    assert bench.get("left") == 42
    assert len(bench.ran) == 3


def test_the_first_fault_is_told_and_nothing_of_it_is_kept() -> None:
    def fails(bench: Workbench) -> Any:
        raise SettingsError("no such thing")

    bench = bench_of(Step("good", lambda bench: 1), Step("bad", fails))
    with pytest.raises(SettingsError, match="no such thing"):
        bench.get_beside(("bad", "good"))
    assert bench.get("good") == 1
    assert bench.ran == ["good"]
