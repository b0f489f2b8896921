"""What a worker does: which steps run again, what is kept, how it speaks and stops."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from img2pour.errors import CancelledError
from img2pour.job.build import make_job
from img2pour.progress import Progress
from img2pour.web.benches import Benches
from img2pour.web.frames import START_BYTES, lengths_of, pack, read_frame
from img2pour.web.kept import PIXEL_STEPS, KeptResults, size_of
from img2pour.web.turn import Turn
from img2pour.web.worker import Answers
from tests.page import sign

SIZE = {"width": "10 in"}


class Heard:
    """Takes the answers to one order."""

    def __init__(self) -> None:
        self.progress = Progress()
        self.parts: dict[str, Any] = {}
        self.keys: dict[str, str] = {}
        self.same_parts: list[str] = []
        self.said: dict[str, Any] = {}

    def part(self, name: str, body: bytes, key: str = "") -> None:
        self.parts[name] = body

    def data(self, name: str, data: dict[str, Any], key: str = "") -> None:
        self.parts.setdefault(name, []).append(json.loads(json.dumps(data, allow_nan=False)))
        self.keys[name] = key

    def same(self, name: str, key: str) -> None:
        self.same_parts.append(name)

    def end(self, **said: Any) -> None:
        self.said = said


def order(folder: Path, op: str, known: str = "", **job: Any) -> dict[str, Any]:
    picture = folder / "picture"
    if not picture.exists():
        picture.write_bytes(sign())
    return {
        "op": op,
        "id": "one",
        "revision": 1,
        "picture": str(picture),
        "sha256": "of the sign",
        "folder": str(folder),
        "job": make_job(**job).model_dump(),
        "known": known,
    }


def done(benches: Benches, wanted: dict[str, Any]) -> Heard:
    heard = Heard()
    benches.do(wanted, heard)  # type: ignore[arg-type]
    return heard


TRACING = {"read", "straighten", "light", "colours", "labels", "pixels", "trace"}
SETTINGS: dict[str, dict[str, Any]] = {
    "width": {"size": {"width": "14 in"}},
    "board": {"size": {"board": "20 in x 12 in", "margin": "1 in"}},
    "role": {"size": SIZE, "override": [{"colour": "#ae2012", "role": "wood"}]},
    "depth": {"size": SIZE, "carving": {"depth": "3 mm"}},
    "order": {"size": SIZE, "pours": {"order": ["#ae2012", "#0b1f3a"]}},
    "seal": {"size": SIZE, "seal": {"kind": "flood"}},
    "resin": {"size": SIZE, "mixing": {"resin": "casting 2:1"}},
    "bits": {"size": SIZE, "bits": {"use": ["flat 1/16 in"]}},
    "touch": {"size": SIZE, "touch": [{"action": "recolour", "at": ["200,100"], "to": "#0b1f3a"}]},
    "region's role": {"size": SIZE, "role": [{"role": "wood", "at": ["200,100"]}]},
}


@pytest.mark.parametrize("setting", SETTINGS)
def test_a_setting_never_traces_again(tmp_path: Path, setting: str) -> None:
    benches = Benches(10**9)
    first = done(benches, order(tmp_path, "draw", size=SIZE))
    assert set(first.said["ran"]) >= TRACING
    for op in ("draw", "plan", "check"):
        again = done(benches, order(tmp_path, op, first.keys["source"], **SETTINGS[setting]))
        assert TRACING.isdisjoint(again.said["ran"])


def test_order_seal_and_resin_do_not_even_carve_again(tmp_path: Path) -> None:
    benches = Benches(10**9)
    first = done(benches, order(tmp_path, "draw", size=SIZE))
    for setting in ("order", "seal", "resin"):
        again = done(benches, order(tmp_path, "draw", first.keys["source"], **SETTINGS[setting]))
        assert again.said["ran"] == []
        assert again.same_parts == ["source"]
        (before,), (after,) = first.parts["design"], again.parts["design"]
        assert after["faces"] == before["faces"]


def test_when_memory_is_short_pixels_go_and_settings_still_do_not_trace(tmp_path: Path) -> None:
    benches = Benches(150_000)
    first = done(benches, order(tmp_path, "draw", size=SIZE))
    assert benches.kept.used_bytes <= 150_000
    left = {key.rpartition(" ")[0] for key in benches.kept}
    assert left.isdisjoint(set(PIXEL_STEPS) - {"tones", "drawing"})
    again = done(benches, order(tmp_path, "draw", first.keys["source"], **SETTINGS["role"]))
    assert TRACING.isdisjoint(again.said["ran"])


def test_the_preview_has_the_palette_of_the_whole_and_comes_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("img2pour.preview.WORTH_PIXELS", 1)
    heard = done(Benches(10**9), order(tmp_path, "draw"))
    half, whole = heard.parts["preview"]
    assert (half["half"], whole["half"]) == (True, False)
    assert [c["hex"] for c in half["colours"]] == [c["hex"] for c in whole["colours"]]
    assert [c["name"] for c in half["colours"]] == [c["name"] for c in whole["colours"]]
    shares = [[c["area_percent"] for c in one["colours"]] for one in (half, whole)]
    assert shares[0] == pytest.approx(shares[1], abs=0.3)
    ran = heard.said["ran"]
    assert ran.index("half trace") < ran.index("trace")


def test_a_colour_is_parted_in_the_two_that_it_holds(tmp_path: Path) -> None:
    wanted = order(tmp_path, "split", colours={"palette": ["#e9d8a6=sand", "#0b1f3a=ink"]})
    palette = done(Benches(10**9), wanted | {"colour": "ink"}).said["palette"]
    assert [entry.partition("=")[0] for entry in palette] == ["#e9d8a6", "#ae2012", "#0b1f3a"]
    assert palette[0] == "#e9d8a6=sand"


def test_kept_results_forget_the_least_used_first() -> None:
    kept = KeptResults(10_000)
    for name in ("a", "b", "c"):
        kept[f"{name} 1"] = np.zeros(500)  # 4,000 bytes each
    assert kept["a 1"] is not None
    kept.trim()
    assert list(kept) == ["c 1", "a 1"]
    kept["labels 1"] = np.zeros(500)
    kept.trim()
    assert list(kept) == ["c 1", "a 1"]
    assert len(kept) == 2


def test_shared_arrays_count_once() -> None:
    pixels = np.zeros((10, 10, 3), np.uint8)
    assert size_of((pixels, pixels[:5], {"again": pixels}), set()) == 300
    square = shapely.box(0, 0, 1, 1)
    assert (
        size_of(square, set()) == size_of(np.array([square], dtype=object), set()) == 300 + 5 * 16
    )


def test_frames_read_back() -> None:
    stream = io.BytesIO(pack({"kind": "part", "name": "港"}, b"body") + pack({"kind": "end"}))
    assert read_frame(stream) == ({"kind": "part", "name": "港"}, b"body")
    assert read_frame(stream) == ({"kind": "end"}, b"")
    assert read_frame(stream) is None
    assert read_frame(io.BytesIO(pack({"kind": "end"})[:-1])) is None
    with pytest.raises(ValueError, match="a frame of"):
        lengths_of(b"\xff" * START_BYTES)


def test_an_order_is_called_back_in_the_middle_of_a_step() -> None:
    turn, seen, begun = Turn(), [], threading.Event()

    def work() -> None:
        turn.begin(7)
        try:
            begun.set()
            ends = time.monotonic() + 60
            while time.monotonic() < ends:
                try:
                    time.sleep(0.001)
                except CancelledError:  # as a library may do that knows no better
                    seen.append("swallowed")
                    break
            while time.monotonic() < ends:
                time.sleep(0.001)
            seen.append("went on to the end")
        except CancelledError:
            seen.append("stopped")
        finally:
            turn.end(7)

    thread = threading.Thread(target=work)
    thread.start()
    begun.wait()
    turn.stop(6)
    turn.stop(7)
    thread.join()
    assert seen[-1] == "stopped"
    assert "went on to the end" not in seen
    assert not turn.is_stopped(6)  # of long ago
    assert not turn.is_stopped(7)
    turn.stop(8)
    assert turn.is_stopped(8)  # before its turn


def test_a_turn_that_has_ended_is_never_interrupted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("img2pour.web.turn.INSIST_S", 0.0)  # call back as often as can be
    turn, escaped = Turn(), []

    def work() -> None:
        for token in range(1, 300):
            try:
                try:
                    turn.begin(token)
                    time.sleep(0.0005)
                finally:
                    turn.end(token)
            except CancelledError:
                pass
            try:
                for _ in range(200):
                    str(token)
            except CancelledError:
                escaped.append(token)

    thread = threading.Thread(target=work)
    thread.start()
    for token in range(1, 300):
        turn.stop(token)
        time.sleep(0.0005)
    thread.join()
    assert escaped == []


def test_threads_are_not_cut_while_they_are_started_or_waited_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("img2pour.web.turn.INSIST_S", 0.001)
    turn, seen = Turn(), []

    def work() -> None:
        for token in range(1, 60):
            try:
                turn.begin(token)
                while True:
                    with ThreadPoolExecutor(2) as pool:
                        assert sum(pool.map(abs, (-1, -2))) == 3
                    time.sleep(0.002)
            except CancelledError:
                seen.append(token)
            finally:
                turn.end(token)

    thread = threading.Thread(target=work)
    thread.start()
    for token in range(1, 60):
        turn.stop(token)
        while thread.is_alive() and token not in seen:
            time.sleep(0.001)
    thread.join()
    assert seen == list(range(1, 60))


def test_frames_of_several_threads_do_not_mix() -> None:
    stream = io.BytesIO()
    answers = Answers(stream)
    threads = [
        threading.Thread(
            target=lambda n=number: [answers.send({"n": n}, bytes([n]) * 999) for _ in range(50)]
        )
        for number in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    stream.seek(0)
    counts = [0] * 4
    while (frame := read_frame(stream)) is not None:
        assert frame[1] == bytes([frame[0]["n"]]) * 999
        counts[frame[0]["n"]] += 1
    assert counts == [50] * 4


HUNGRY = """
import numpy as np
from img2pour.web.worker import limit_memory
limit_memory(2000)
try:
    np.ones(500_000_000)
except MemoryError:
    print("refused")
"""


def test_memory_beyond_the_limit_is_refused() -> None:
    said = subprocess.run(
        [sys.executable, "-c", HUNGRY], capture_output=True, text=True, check=True
    )
    assert said.stdout.strip() == "refused"


def test_a_worker_ends_with_the_server_that_started_it() -> None:
    limits = json.dumps({"memory_mb": 4000, "kept_mb": 10, "seconds": 60})
    command = [sys.executable, "-m", "img2pour.web.worker", limits]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as worker:
        assert worker.stdout is not None
        assert worker.stdin is not None
        assert read_frame(worker.stdout) == ({"kind": "ready"}, b"")  # type: ignore[arg-type]
        worker.stdin.close()
        assert worker.wait(60) == 0
