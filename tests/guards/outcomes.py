"""A plugin of pytest for the inner runs: writes as JSON how each test ended, and which program it ran.

    python -m pytest -p tests.guards.outcomes --outcomes FILE ...

{"program": "<folder of print3d>", "ended": {"<test>": "passed" | "skipped" | "<phase>: <type of the error>"}}
"""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

ENDED: dict[str, str] = {}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--outcomes", type=Path)


def pytest_exception_interact(node: pytest.Collector | pytest.Item, call: pytest.CallInfo[object]) -> None:
    if call.excinfo is not None and call.when == "collect":
        ENDED[node.nodeid] = f"collect: {call.excinfo.typename}"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Iterator[None]:
    report = yield
    if report.skipped:
        ENDED[item.nodeid] = "skipped"
    elif call.excinfo is not None:
        if ENDED.get(item.nodeid, "passed") == "passed":
            ENDED[item.nodeid] = f"{call.when}: {call.excinfo.typename}"
    elif call.when == "call":
        ENDED[item.nodeid] = "passed"
    return report


def pytest_sessionfinish(session: pytest.Session) -> None:
    import print3d

    told = {"program": str(Path(print3d.__file__).parent), "ended": ENDED}
    session.config.getoption("--outcomes").write_text(json.dumps(told), encoding="utf-8")
