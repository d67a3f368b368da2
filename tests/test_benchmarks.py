"""The one command for performance: its table says what it measured, and it runs to its end."""

import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from print3d.output.formats import ALL
from tests.benchmarks.benchmark_all import ONE_OF_EACH, ROOT, THREADS, elsewhere, steps_of, table
from tests.benchmarks.benchmark_shells import CASES

MADE: dict[str, Any] = {
    "name": "made", "shape": 0.5, "checks": {"gap": 3.0, "wall": 1.0}, "exports": dict.fromkeys(ALL, 0.25) | {"png": 2.0},
    "mesh": 0.1, "sewn": 1.0, "tessellated": 4.0, "triangles": 1000, "vents": 7, "peak_mb": 300.0,
}  # fmt: skip


def test_the_table_adds_up_and_names_the_largest_costs() -> None:
    lines = list(table([MADE]))
    assert lines[0].split()[2:] == ["shape", "checks", *ALL, "all", "peak", "MB"]
    assert lines[1].split()[-2:] == [f"{sum(steps_of(MADE).values()):.2f}", "300"]
    assert any(line.split()[-1:] == ["40"] for line in lines)
    assert "check gap 3.00 s (" in lines[-1]
    assert re.findall(r"(?:check|write) \w+", lines[-1]) == ["check gap", "write png", "check wall"]


def test_every_kind_is_measured() -> None:
    kinds = {(CASES / f"{name}.toml").read_text().split('kind = "')[1].split('"')[0] for name in ONE_OF_EACH}
    from print3d.kinds.registry import KINDS

    assert kinds == set(KINDS)


def test_a_program_is_measured_without_the_memory_of_its_parent() -> None:
    ballast = bytearray(200_000_000)
    ballast[::4096] = b"x" * len(ballast[::4096])
    cpu, wall, peak_mb = elsewhere(sys.executable, "-c", "sum(range(3_000_000))")
    assert cpu > 0.0
    assert wall > 0.0
    assert peak_mb < 100.0


@pytest.mark.parametrize("code", [0, 1, 2])
def test_a_program_that_fails_is_not_timed(code: int) -> None:
    """A refusal takes no time: it must not pass for a fast build. Exit 1 is a build whose checks do not all hold."""
    if code < 2:
        assert elsewhere(sys.executable, "-c", f"raise SystemExit({code})")
        return
    with pytest.raises(SystemExit, match="ended with 2"):
        elsewhere(sys.executable, "-c", "raise SystemExit(2)")


def test_a_measured_program_has_one_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in THREADS:
        monkeypatch.setenv(name, "8")
    asks = f"import os, sys; sys.exit([os.environ[name] for name in {THREADS!r}] != ['1'] * {len(THREADS)} and 2)"
    assert elsewhere(sys.executable, "-c", asks)


@pytest.mark.slow
def test_the_command_runs_to_its_end() -> None:
    script = Path(ROOT) / "tests" / "benchmarks" / "benchmark_all.py"
    done = subprocess.run(
        [sys.executable, script, "--quick"], capture_output=True, text=True, cwd=ROOT, check=True
    )
    for heading in (
        "cold start",
        "against the CAD kernel",
        "3 largest costs",
        "exponents",
        "spends its own time",
    ):
        assert heading in done.stdout
