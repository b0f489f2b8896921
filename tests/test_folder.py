"""Safe writing of the output folder: whole or not at all, and nothing of the user's removed."""

from __future__ import annotations

import errno
import json
import os
import random
import signal
import stat
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from img2pour.errors import OutputError
from img2pour.write import exchange as exchange_module
from img2pour.write import folder as folder_module
from img2pour.write.folder import check_folder, write_folder
from img2pour.write.leftovers import aside_name
from img2pour.write.manifest import MANIFEST, is_plain_name, read_manifest

OLD = {"report.json": b"old", "design/regions.dxf": b"old dxf", "job.toml": b"width = 1"}
NEW = {"report.json": b"new", "design/regions.svg": b"new svg", "deep/er/file": b"\x00" * 9}


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file below `folder` but the manifest."""
    found = {p.relative_to(folder).as_posix(): p for p in folder.rglob("*") if p.is_file()}
    return {name: path.read_bytes() for name, path in found.items() if name != MANIFEST}


def neighbours(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.parent.iterdir() if p != folder)


@pytest.fixture(params=["exchanged", "moved aside"])
def out(request, tmp_path, monkeypatch) -> Path:
    """Return a path for the output, with and without a system that can exchange folders."""
    if request.param == "moved aside":
        monkeypatch.setattr(folder_module, "exchange", lambda first, second: False)
    return tmp_path / "out"


def test_new_folder_holds_the_files_and_their_list(out):
    write_folder(out, OLD)
    assert contents(out) == OLD
    listed = json.loads((out / MANIFEST).read_bytes())["files"]
    # By coreutils: printf old | sha256sum
    known = "cba06b5736faf67e54b07b561eae94395e774c517a7d910a54369e1263ccfbd4"
    assert listed["report.json"] == {"bytes": 3, "sha256": known}
    assert sorted(listed) == sorted(OLD)
    assert neighbours(out) == []


def test_own_folder_is_replaced_whole(out):
    write_folder(out, OLD)
    write_folder(out, NEW)
    assert contents(out) == NEW
    assert not (out / "design/regions.dxf").exists()
    assert neighbours(out) == []


def test_same_files_same_manifest(tmp_path):
    write_folder(tmp_path / "a", OLD)
    write_folder(tmp_path / "b", dict(reversed(OLD.items())))
    assert (tmp_path / "a" / MANIFEST).read_bytes() == (tmp_path / "b" / MANIFEST).read_bytes()


@pytest.mark.parametrize("name", ["notes.txt", "design/mine.dxf", "empty folder/", ".hidden"])
def test_foreign_file_is_named_and_stays(out, name):
    write_folder(out, OLD)
    foreign = out / name
    if name.endswith("/"):
        foreign.mkdir()
    else:
        foreign.write_text("mine")
    with pytest.raises(OutputError, match=name.rstrip("/")):
        write_folder(out, NEW)
    assert foreign.exists()
    assert {k: v for k, v in contents(out).items() if k in OLD} == OLD
    assert neighbours(out) == []


def test_folder_without_manifest_is_refused(out):
    out.mkdir()
    (out / "holiday.jpg").write_bytes(b"photo")
    with pytest.raises(OutputError, match=r"holiday\.jpg"):
        write_folder(out, NEW)
    assert contents(out) == {"holiday.jpg": b"photo"}


@pytest.mark.parametrize(
    "manifest",
    [
        b"{",
        b"[]",
        b'{"written_by": "img2pour"}',
        b'{"written_by": "somebody", "files": {"a": {"sha256": ""}}}',
        b'{"written_by": "img2pour", "files": {"../a": {"sha256": ""}}}',
        b'{"written_by": "img2pour", "files": {"/etc/a": {"sha256": ""}}}',
        b"\xff\xfe",
    ],
)
def test_strange_manifest_counts_as_none(tmp_path, manifest):
    out = tmp_path / "out"
    out.mkdir()
    (out / MANIFEST).write_bytes(manifest)
    assert read_manifest(out) is None
    with pytest.raises(OutputError, match=r"manifest\.json"):
        write_folder(out, NEW)
    assert (out / MANIFEST).read_bytes() == manifest


def test_changed_file_is_kept_unless_allowed(out):
    write_folder(out, OLD)
    (out / "job.toml").write_bytes(b"width = 2  # mine")
    with pytest.raises(OutputError, match=r"job\.toml.*changed"):
        write_folder(out, NEW)
    assert (out / "job.toml").read_bytes() == b"width = 2  # mine"
    write_folder(out, NEW, may_change=("job.toml",))
    assert contents(out) == NEW


def test_listed_file_that_turned_into_a_pipe_is_refused(out):
    write_folder(out, OLD)
    (out / "job.toml").unlink()
    os.mkfifo(out / "job.toml")
    with pytest.raises(OutputError, match=r"job\.toml"):
        write_folder(out, NEW)


def test_missing_listed_file_does_not_matter(out):
    write_folder(out, OLD)
    (out / "design/regions.dxf").unlink()
    (out / "design").rmdir()
    write_folder(out, NEW)
    assert contents(out) == NEW


def test_empty_folder_is_taken(out):
    out.mkdir()
    write_folder(out, NEW)
    assert contents(out) == NEW


def test_mode_of_the_old_folder_is_kept(out):
    write_folder(out, OLD)
    out.chmod(0o750)
    write_folder(out, NEW)
    assert stat.S_IMODE(out.stat().st_mode) == 0o750


def test_missing_parents_are_made(tmp_path):
    write_folder(tmp_path / "a/b/c", NEW)
    assert contents(tmp_path / "a/b/c") == NEW


def test_path_below_a_plain_file(tmp_path):
    (tmp_path / "file").write_text("mine")
    for out in (tmp_path / "file/out", tmp_path / "file/deeper/out"):
        for attempt in (write_folder, lambda path, _files: check_folder(path)):
            with pytest.raises(OutputError, match="is a file"):
                attempt(out, NEW)
    assert (tmp_path / "file").read_text() == "mine"


def test_out_is_a_file(tmp_path):
    (tmp_path / "out").write_text("mine")
    with pytest.raises(OutputError, match="is a file"):
        write_folder(tmp_path / "out", NEW)
    assert (tmp_path / "out").read_text() == "mine"


def test_relative_path_and_closing_stroke(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    write_folder(Path("out/"), OLD)
    write_folder(Path("./sub/../out"), NEW)
    assert contents(tmp_path / "out") == NEW


def test_link_is_followed_and_stays(out, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    real = tmp_path / "elsewhere/real"
    write_folder(real, OLD)
    out.symlink_to(real)
    write_folder(out, NEW)
    assert out.is_symlink()
    assert contents(real) == NEW


def test_link_into_nothing_makes_its_target(tmp_path):
    (tmp_path / "out").symlink_to(tmp_path / "real")
    write_folder(tmp_path / "out", NEW)
    assert contents(tmp_path / "real") == NEW


@pytest.mark.parametrize("where", [".", "..", "/"])
def test_folder_one_stands_in_is_refused(tmp_path, monkeypatch, where):
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    with pytest.raises(OutputError, match="working in"):
        write_folder(Path(where), NEW)


def test_mount_point_is_refused():
    with pytest.raises(OutputError, match="mount point"):
        write_folder(Path("/proc"), NEW)


@pytest.mark.parametrize("name", ["../x", "/x", "a//b", "a/./b", "", "a\\b", MANIFEST, "a\0b"])
def test_file_names_that_leave_the_folder(tmp_path, name):
    assert name == MANIFEST or not is_plain_name(name)
    with pytest.raises(OutputError, match="cannot be the name"):
        write_folder(tmp_path / "out", {name: b""})
    assert not (tmp_path / "out").exists()


def test_path_with_a_zero_byte(tmp_path):
    with pytest.raises(OutputError, match="no path"):
        write_folder(tmp_path / "a\0b", NEW)


@pytest.mark.parametrize("call", ["write", "fsync", "open", "mkdir"])
@pytest.mark.parametrize("calls_before", [0, 2])
def test_full_disk_leaves_everything_as_it_was(out, monkeypatch, call, calls_before):
    write_folder(out, OLD)
    left = iter([True] * calls_before)
    real = getattr(os, call)

    def full(*args, **kwargs):
        if next(left, False):
            return real(*args, **kwargs)
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patched:
        patched.setattr(os, call, full)
        with pytest.raises(OutputError, match=os.strerror(errno.ENOSPC)):
            write_folder(out, NEW)
    assert contents(out) == OLD
    assert len(neighbours(out)) <= 1  # an empty folder of ours where even removing was refused
    write_folder(out, NEW)
    assert contents(out) == NEW
    assert neighbours(out) == []


def test_parents_are_taken_back_after_a_failure(tmp_path, monkeypatch):
    def full(number, data):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patched:
        patched.setattr(os, "write", full)
        with pytest.raises(OutputError):
            write_folder(tmp_path / "a/b/out", NEW)
    assert list(tmp_path.iterdir()) == []


def test_limit_of_the_system_on_file_sizes(tmp_path):
    """A refusal by the system itself, not by a stand-in: files above 4 kB cannot be written."""
    script = (
        "import resource, signal, sys; from pathlib import Path;"
        "from img2pour.write.folder import write_folder; from img2pour.errors import OutputError;"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN);"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096));\n"
        "try: write_folder(Path(sys.argv[1]), {'a': b'x', 'b': b'y' * 9999})\n"
        "except OutputError as problem: print(problem)"
    )
    write_folder(tmp_path / "out", OLD)
    done = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path / "out")],
        capture_output=True,
        text=True,
        check=True,
    )
    assert "too large" in done.stdout
    assert done.stdout.count("\n") == 1
    assert contents(tmp_path / "out") == OLD
    assert neighbours(tmp_path / "out") == []


@contextmanager
def without_rights() -> Iterator[None]:
    """Act as a user without rights to what root owns."""
    is_root = os.geteuid() == 0
    if is_root:
        os.seteuid(65534)
    try:
        yield
    finally:
        if is_root:
            os.seteuid(0)


def test_parent_without_permission():
    with tempfile.TemporaryDirectory() as place:
        out = Path(place) / "parent/out"
        write_folder(out, OLD)
        Path(place).chmod(0o755)
        out.parent.chmod(0o555)
        try:
            for attempt in (write_folder, lambda path, _files: check_folder(path)):
                with without_rights(), pytest.raises(OutputError, match="permission"):
                    attempt(out, NEW)
            assert contents(out) == OLD
        finally:
            out.parent.chmod(0o755)


def test_check_finds_what_writing_would_find(out):
    check_folder(out)
    assert not out.exists()
    write_folder(out, OLD)
    check_folder(out)
    (out / "mine.txt").write_text("")
    with pytest.raises(OutputError, match=r"mine\.txt"):
        check_folder(out)


def test_cut_between_the_two_renames_is_repaired(tmp_path, monkeypatch):
    out = tmp_path / "out"
    write_folder(out, OLD)
    monkeypatch.setattr(folder_module, "exchange", lambda first, second: False)
    old = tmp_path / aside_name(out, "old")
    new = tmp_path / aside_name(out, "new")
    out.rename(old)
    write_folder(new, NEW)
    check_folder(out)
    assert contents(out) == OLD
    assert neighbours(out) == []


def test_left_over_of_a_cut_run_is_removed_but_nothing_else(tmp_path):
    out = tmp_path / "out"
    half = tmp_path / aside_name(out, "new")
    write_folder(half, OLD)
    (half / "report.json").write_bytes(b"ol")
    begun = tmp_path / aside_name(out, "new")
    begun.mkdir()
    (begun / MANIFEST).write_bytes(b"{")
    mine = tmp_path / aside_name(out, "new")
    mine.mkdir()
    (mine / "photo.jpg").write_bytes(b"mine")
    alike = tmp_path / ".img2pour-notes"
    alike.mkdir()
    write_folder(out, NEW)
    assert neighbours(out) == sorted([mine.name, alike.name])
    assert (mine / "photo.jpg").read_bytes() == b"mine"


def test_folder_that_another_run_is_filling_is_left_alone(tmp_path):
    out = tmp_path / "out"
    other = tmp_path / aside_name(out, "new")
    other.mkdir()
    script = (
        "import sys; from pathlib import Path;"
        "from img2pour.write.exchange import FolderLock;"
        "lock = FolderLock(Path(sys.argv[1])); print(lock.take(), flush=True); sys.stdin.read()"
    )
    command = [sys.executable, "-c", script, str(other)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as run:
        assert run.stdout is not None
        assert run.stdout.readline().strip() == b"True"
        write_folder(out, NEW)
        assert other.exists()
        run.communicate()
    write_folder(out, OLD)
    assert not other.exists()


def test_exchange_swaps_or_says_no(tmp_path):
    for name in "ab":
        (tmp_path / name).mkdir()
        (tmp_path / name / name).write_text(name)
    swapped = exchange_module.exchange(tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "a" / ("b" if swapped else "a")).exists()


def test_exchange_with_a_missing_folder_raises(tmp_path):
    (tmp_path / "a").mkdir()
    if exchange_module.exchange(tmp_path / "a", tmp_path / "a"):
        with pytest.raises(FileNotFoundError):
            exchange_module.exchange(tmp_path / "a", tmp_path / "none")


WRITER = """
import sys
from pathlib import Path
from img2pour.write import folder
if sys.argv[2] == "moved aside":
    folder.exchange = lambda first, second: False
number = int(sys.argv[3])
while True:
    number += 1
    files = {f"{i}.txt": str(number).encode() * 2000 for i in range(12)}
    files[f"only/{number}.txt"] = str(number).encode()
    folder.write_folder(Path(sys.argv[1]), files)
"""


def test_killed_at_random_moments(out, request):
    """Kill -9 at 20 moments: the folder is always whole, of one run, and never missing."""
    way = request.node.callspec.params["out"]
    moments = random.Random(7)
    write_folder(out, {f"{i}.txt": b"0" * 2000 for i in range(12)} | {"only/0.txt": b"0"})
    for attempt in range(20):
        command = [sys.executable, "-c", WRITER, str(out), way, str(attempt * 1000)]
        with subprocess.Popen(command) as run:
            time.sleep(0.08 + moments.random() * 0.12)
            run.send_signal(signal.SIGKILL)
        if way == "moved aside":
            check_folder(out)
        found = contents(out)
        (only,) = [name for name in found if name.startswith("only/")]
        number = found.pop(only)
        assert only == f"only/{number.decode()}.txt"
        assert found == {f"{i}.txt": number * 2000 for i in range(12)}
        listed = read_manifest(out)
        assert listed is not None
        assert set(listed) == {*found, only}
    check_folder(out)
    assert neighbours(out) == []
