"""Builds that are killed, and two at once: whole sets only, and a record whose hashes are those of the files beside it."""

import json
import signal
import sys
import time
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

import pytest

from tests.faults.conftest import content, started
from tests.inputs.bad_cases import case_text

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL")
FORMATS = "stl,json,record"
SET = {
    "pip_extension.stl",
    "findings.json",
    "record.json",
    "record.pdf",
    ".print3d-files",
    ".print3d-part.json",
}
MINE = {"notes.txt", "earlier"}
"""What is kept beside a set and is none of its files."""


def written(folder: Path, name: str, wall_mm: str) -> Path:
    path = folder / name
    path.write_text(case_text({"orthosis.wall_mm": wall_mm}), encoding="utf-8")
    return path


def is_whole(folder: Path) -> bool:
    """Whether every file of a set is the one that its record names, and nothing is missing or too much."""
    record = json.loads((folder / "record.json").read_text(encoding="utf-8"))
    hashes = {name: sha256((folder / name).read_bytes()).hexdigest() for name in record["files"]}
    here = {path.name for path in folder.iterdir()} - MINE
    listed = set((folder / ".print3d-files").read_text(encoding="utf-8").split())
    return hashes == record["files"] and here == listed | {".print3d-files"} and listed >= set(hashes)


def is_whole_earlier(home: Path) -> bool:
    """Whether the part that another took the place of is there with its record."""
    return wall_of(home / "earlier" / "first") == 2.0 and is_whole(home / "earlier" / "first")


def wall_of(folder: Path) -> float:
    return float(
        json.loads((folder / "record.json").read_text(encoding="utf-8"))["case"]["orthosis"]["wall_mm"]
    )


def seconds_until(seconds: float, out: Path) -> Iterator[None]:
    """Wait; or, below nought, wait until a file is there and so long after it."""
    began = time.monotonic()
    fresh = out / ".PY-900.new"
    while seconds < 0 and not (fresh.exists() and any(fresh.iterdir())) and time.monotonic() - began < 120:
        yield time.sleep(0.001)
    yield time.sleep(abs(seconds))


def kill_after(seconds: float, case: Path, out: Path) -> int:
    process = started("build", case, "--out", out, "--formats", FORMATS, "--replace", cwd=out)
    for _ in seconds_until(seconds, out):
        if process.poll() is not None:
            break
    process.send_signal(signal.SIGKILL)
    process.communicate(timeout=60)
    return process.returncode


def built(case: Path, out: Path) -> None:
    process = started("build", case, "--out", out, "--formats", FORMATS, "--replace", cwd=case.parent)
    _, error = process.communicate(timeout=300)
    assert process.returncode in (0, 1), error


def sweep(tmp_path: Path, moments: list[float]) -> None:
    out = tmp_path / "out"
    out.mkdir()
    first, second = written(tmp_path, "first.toml", "2"), written(tmp_path, "second.toml", "2.5")
    built(first, out)
    (out / "PY-900" / "notes.txt").write_text("mine")
    before = content(out)
    for seconds in moments:
        ended = kill_after(seconds, second, out)
        seen = {name: text for name, text in content(out).items() if not name.startswith(".")}
        assert seen == before or ended >= 0 or wall_of(out / "PY-900") == 2.5
        assert is_whole(out / "PY-900"), seconds
        assert (out / "PY-900" / "notes.txt").read_text() == "mine"
        assert wall_of(out / "PY-900") == 2 or is_whole_earlier(out / "PY-900")
    built(second, out)  # the next build clears up and is not held up by a lock
    assert wall_of(out / "PY-900") == 2.5
    assert is_whole(out / "PY-900")
    assert is_whole_earlier(out / "PY-900")
    assert {path.name for path in (out / "PY-900").iterdir()} == SET | MINE
    assert [path.name for path in out.iterdir() if path.is_dir()] == ["PY-900"]


@pytest.mark.slow(in_ci=True)
def test_a_build_killed_while_it_writes(tmp_path: Path) -> None:
    sweep(tmp_path, [-0.001])


@pytest.mark.slow
def test_a_build_killed_at_many_moments(tmp_path: Path) -> None:
    sweep(tmp_path, [0.3, 0.8, 1.5, 2.2, 3.0, 4.0, *(-0.004 * 1.6**number for number in range(12))])


@pytest.mark.slow(in_ci=True)
def test_two_builds_at_once(tmp_path: Path) -> None:
    """Either one is told that the other is writing, or, later, that its part stands there; never a mixture."""
    out = tmp_path / "out"
    cases = [written(tmp_path, f"{wall}.toml", wall) for wall in ("2", "2.5")]
    builds = [started("build", case, "--out", out, "--formats", FORMATS, cwd=tmp_path) for case in cases]
    ends = [build.communicate(timeout=300) for build in builds]
    codes = [build.returncode for build in builds]
    assert min(codes) < 2
    for code, (_, error) in zip(codes, ends, strict=True):
        assert code < 2 or "another build is writing there" in error or "a part of another shape" in error
    winners = [wall for wall, code in zip((2.0, 2.5), codes, strict=True) if code < 2]
    assert wall_of(out / "PY-900") in winners
    assert is_whole(out / "PY-900")
    shape = (out / "PY-900" / "pip_extension.stl").read_bytes()
    (out / "PY-900" / "pip_extension.stl").write_bytes(shape[:-1] + b"x")  # planted: a file of another build
    assert not is_whole(out / "PY-900")
    (out / "PY-900" / "pip_extension.stl").write_bytes(shape)
    (out / "PY-900" / "half.stl").touch()  # and one too many
    assert not is_whole(out / "PY-900")
