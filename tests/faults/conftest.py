"""What tests of faults share: a sound case in a folder, the command line in a process of its own, and a small disk."""

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.inputs.bad_cases import case_text

HOME = Path(__file__).parents[2]
Run = Callable[..., "subprocess.CompletedProcess[str]"]


def content(folder: Path) -> dict[str, bytes]:
    """Return relative path -> bytes of every file, locks left out: they hold nothing and stay."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.suffix != ".lock"
    }


def started(
    *arguments: object, cwd: Path, code: str = "from print3d.cli.main import main; main()"
) -> "subprocess.Popen[str]":
    """Start the command line, or other code, in a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, arguments)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=cwd, env={**os.environ, "PYTHONPATH": str(HOME)},
    )  # fmt: skip


@pytest.fixture
def case(tmp_path: Path) -> Path:
    """A sound case with a set of files from an earlier build, and a note beside them."""
    path = tmp_path / "cases" / "case.toml"
    path.parent.mkdir()
    path.write_text(case_text({}), encoding="utf-8")
    return path


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Callable[..., Path]]:
    """Return a function that makes a small disk; only root can, others skip the test."""
    made: list[Path] = []

    def make(size: str, *, read_only: bool = False) -> Path:
        folder = tmp_path / f"disk{len(made)}"
        folder.mkdir()
        options = f"size={size}" + (",ro" if read_only else "")
        try:
            subprocess.run(
                ["mount", "-t", "tmpfs", "-o", options, "print3d", folder], check=True, capture_output=True
            )
        except (OSError, subprocess.CalledProcessError):
            pytest.skip("no disk can be mounted here")
        made.append(folder)
        return folder

    yield make
    for folder in made:
        subprocess.run(["umount", "-l", folder], check=True)
