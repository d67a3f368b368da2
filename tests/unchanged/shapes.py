"""Hold every worked case, model and pair to the bytes and the measured numbers of an earlier version.

    python -m tests.unchanged.shapes            compare with what is recorded here; rows that were added are listed
    python -m tests.unchanged.shapes --only pip_extension dorsal_blocking_left
    python -m tests.unchanged.shapes --record   after a change that is meant to alter shapes or numbers

A row of findings is known by its numbers (measured, limit, unit), so that its words and keys may change; the measured number has to be
the same to the last digit.
"""

import argparse
import hashlib
import json
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

HOME = Path(__file__).parents[2]
RECORDED = Path(__file__).parent / "shapes.json"
WORKERS = 2
Row = tuple[str, ...]


def calls() -> dict[str, list[str]]:
    """Return a name for everything that is built, and its command."""
    cases = {path.stem: ["build", str(path)] for path in sorted((HOME / "params" / "cases").glob("*.toml"))}
    models = sorted((HOME / "params" / "models").glob("*.toml"))
    alone = {f"model {path.stem}": ["model", str(path)] for path in models}
    pairs = {f"pair {path.stem}": ["model", str(path), "--with-orthosis"] for path in models}
    return {**cases, **alone, **pairs}


def built(command: list[str]) -> dict[str, Any]:
    """Run a command in a process of its own; return the hashes of its STL files and its rows of findings."""
    with tempfile.TemporaryDirectory() as folder:
        call = [sys.executable, "-m", "print3d", *command, "--out", folder, "--formats", "stl,json"]
        ended = subprocess.run(call, cwd=HOME, capture_output=True, text=True, check=False)
        if ended.returncode > 1:
            return {"refused": True, "files": {}, "rows": []}
        files = sorted(Path(folder).rglob("*.stl"))
        (found,) = Path(folder).rglob("findings.json")
        return {
            "refused": False,
            "files": {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in files},
            "rows": sorted(
                row_of(each) for each in json.loads(found.read_text(encoding="utf-8"))["findings"]
            ),
        }


def row_of(finding: dict[str, Any]) -> Row:
    """Return what a row is known by."""
    return repr(finding["measured"]), repr(finding["limit"]), finding["unit"]


def differences(name: str, before: dict[str, Any], now: dict[str, Any]) -> Iterator[str]:
    """Yield what has changed for the worse; nothing where all is as it was."""
    if before["refused"] != now["refused"]:
        yield f"{name}: {'no longer refused' if before['refused'] else 'refused now'}"
    for file in sorted(before["files"].keys() | now["files"].keys()):
        if before["files"].get(file) != now["files"].get(file):
            yield f"{name}: {file} has other bytes"
    lost = Counter(map(tuple, before["rows"])) - Counter(map(tuple, now["rows"]))
    yield from (f"{name}: no row is {' | '.join(row)} any more" for row in sorted(lost.elements()))


def main() -> None:
    """Build, compare, and end with 1 if anything has changed."""
    options = argparse.ArgumentParser()
    options.add_argument("--record", action="store_true")
    options.add_argument("--only", nargs="*")
    options.add_argument("--jobs", type=int, default=WORKERS)
    asked = options.parse_args()
    chosen = {name: call for name, call in calls().items() if not asked.only or name in asked.only}
    with ThreadPoolExecutor(asked.jobs) as pool:
        now = dict(zip(chosen, pool.map(built, chosen.values()), strict=True))
    if asked.record:
        RECORDED.write_text(json.dumps(now, indent=1, sort_keys=True) + "\n", encoding="utf-8")
        return
    before = json.loads(RECORDED.read_text(encoding="utf-8"))
    worse = [line for name, found in now.items() for line in differences(name, before[name], found)]
    for name, found in now.items():
        added = Counter(map(tuple, found["rows"])) - Counter(map(tuple, before[name]["rows"]))
        for row in sorted(added.elements()):
            print(f"{name}: added {' | '.join(row)}")
    print(*worse, sep="\n")
    print(
        f"{len(chosen)} builds, {sum(len(each['files']) for each in now.values())} STL files, {len(worse)} differences"
    )
    sys.exit(bool(worse))


if __name__ == "__main__":
    main()
