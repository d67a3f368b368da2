"""Runs tests again and again in a copy of the tree, each time with one file otherwise; started in that copy.

Libraries are loaded once, the program anew in a process of its own each time: python -m tests.guards.planter TEST...
Reads lines of JSON, [file, its text], and answers each with the names of the tests that failed, or with what went wrong.
"""

import contextlib
import importlib
import io
import json
import os
import sys
from pathlib import Path

import pytest

LIBRARIES = (
    "numpy",
    "scipy.interpolate",
    "scipy.optimize",
    "scipy.spatial",
    "scipy.sparse.linalg",
    "scipy.stats",
    "shapely",
    "pydantic",
)
"""What takes longest to load."""


class Failing:
    """Hears which tests fail."""

    def __init__(self) -> None:
        self.names: list[str] = []

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep the name of a test that failed."""
        if report.failed:
            self.names.append(report.nodeid)


def failing(tests: list[str]) -> list[str]:
    """Run tests in a process of its own and return which failed, or that they could not run at all."""
    reader, writer = os.pipe()
    if os.fork() == 0:
        heard = Failing()
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            code = int(
                pytest.main([*tests, "-q", "-p", "no:cacheprovider", "-p", "no:randomly"], plugins=[heard])
            )
        os.write(writer, json.dumps(heard.names or ([] if code == 0 else [f"exit {code}"])).encode())
        os._exit(0)
    os.close(writer)
    with os.fdopen(reader, "rb") as answer:
        said = answer.read()
    os.wait()
    return list(json.loads(said or b'["died"]'))


def main(tests: list[str]) -> None:
    """Answer line by line."""
    for name in LIBRARIES:
        importlib.import_module(name)
    for line in sys.stdin:
        file, text = json.loads(line)
        path = Path(file)
        sound = path.read_text(encoding="utf-8")
        path.write_text(text, encoding="utf-8")
        try:
            answer = failing(tests)
        finally:
            path.write_text(sound, encoding="utf-8")
        sys.stdout.write(json.dumps(answer) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1:])
