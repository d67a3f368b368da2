"""The population sweep: thousands of random people with random designs of every kind, each asked for what must always be true.

    python -m tests.sweep.population --bodies 10000 --jobs 2 --seed 1

Writes a line for each body to outputs/sweep/seed-1.jsonl as it is done; started again, it goes on from there. A line counts only for the
program that made it: after a change of the program its bodies are taken again. Ends with the table. Every body that shows a fault is
shrunk to a small case in outputs/sweep/faults/, with its traceback beside it, and the exit code is 1.
With --solids the bodies are built by the CAD kernel instead of being checked: each one valid body that agrees with its mesh (0.05 mm, 0.3 %
of volume); the column of the checks is then the time of the solids.
"""

import argparse
import hashlib
import json
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any

import print3d
from print3d.errors import StudyError
from print3d.inputs.toml_text import toml_text
from print3d.workers import Workers, n_cores, run_all
from tests.sweep.examine import FRESH_EVERY, Examined, Fault, examine, examine_solid, random_body
from tests.sweep.shrink import shrink
from tests.sweep.table import table

FOLDER = Path("outputs/sweep")
MOST_SHRUNK = 3
"""So many bodies of one fault are shrunk; the others fail in the same way."""
Row = dict[str, Any]


@dataclass(frozen=True)
class Job:
    """One body of a sweep.

    as_solid : whether it is built by the CAD kernel and held against its mesh, instead of checked
    """

    seed: int
    number: int
    as_solid: bool = False


def take(job: Job) -> Examined:
    """Examine one body (in a worker)."""
    data = random_body(job.seed, job.number)
    if job.as_solid:
        return examine_solid(data)
    return examine(data, in_fresh_process=job.number % FRESH_EVERY == 0)


@cache
def program() -> str:
    """Return a digest of the program's and the sweep's source, which a row belongs to."""
    digest = hashlib.sha256()
    roots = (Path(print3d.__file__).parent, Path(__file__).parent)
    for path in sorted(path for root in roots for path in root.rglob("*") if path.suffix in (".py", ".toml")):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:12]


def read_rows(path: Path, seed: int) -> dict[int, Row]:
    """Return the rows of this seed and program by number; a line cut short by an interruption is left out."""
    rows: dict[int, Row] = {}
    for line in path.read_text(encoding="utf-8").splitlines() if path.exists() else ():
        try:
            row = json.loads(line)
        except json.JSONDecodeError:
            continue
        if (
            row["seed"] == seed
            # guard: rows of this program alone
            and row["program"] == program()
        ):
            rows[row["number"]] = row
    return rows


def run(seed: int, bodies: int, n_workers: int, path: Path, *, as_solids: bool = False) -> list[Row]:
    """Take every body that has no row yet, and return the rows of all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    rows = {number: row for number, row in read_rows(path, seed).items() if number < bodies}
    jobs = [Job(seed, number, as_solids) for number in range(bodies) if number not in rows]
    start, before = time.monotonic(), len(rows)
    with path.open("a", encoding="utf-8") as file:
        for at, examined in _all(jobs, n_workers):
            job = jobs[at]
            row = {"program": program(), **asdict(job), **asdict(examined)}
            file.write(f"\n{json.dumps(row)}" if file.tell() else json.dumps(row))
            file.flush()
            rows[job.number] = row
            _say_how_far(len(rows), bodies, before, time.monotonic() - start)
    return [rows[number] for number in sorted(rows)]


def _all(jobs: list[Job], n_workers: int) -> Iterator[tuple[int, Examined]]:
    """Yield what becomes of every body, also of those that end their process."""
    open_jobs = dict(enumerate(jobs))
    try:
        for at, examined in run_all(take, jobs, Workers(n_workers=n_workers)):
            del open_jobs[at]
            yield at, examined
    # guard: a process that ends
    except StudyError as error:
        for at, job in open_jobs.items():
            kind = str(random_body(job.seed, job.number)["orthosis"]["kind"])
            yield at, Examined(kind, faults=(Fault("the process ended", str(error)),))


def _say_how_far(done: int, bodies: int, before: int, seconds: float) -> None:
    if done % 25 == 0 or done == bodies:
        left = (bodies - done) * seconds / max(1, done - before)
        print(f"{done} of {bodies}, {left / 60:.0f} min to go", file=sys.stderr, flush=True)


def write_faults(rows: list[Row], folder: Path, most_trials: int = 120) -> list[Path]:
    """Shrink the first bodies of every fault; write each as a case with its traceback beside it."""
    written, seen = [], dict[str, int]()
    for row in rows:
        for fault in row["faults"]:
            name = fault["name"]
            seen[name] = seen.get(name, 0) + 1
            if seen[name] > MOST_SHRUNK:
                continue
            folder.mkdir(parents=True, exist_ok=True)
            stem = "".join(letter if letter.isalnum() else "_" for letter in name)
            path = folder / f"{stem}-{row['seed']}-{row['number']}.toml"
            path.write_text(toml_text(_shrunk(row, name, most_trials)), encoding="utf-8")
            path.with_suffix(".txt").write_text(f"{name}\n{fault['told']}\n", encoding="utf-8")
            written.append(path)
    return written


def _shrunk(row: Row, name: str, most_trials: int) -> dict[str, Any]:
    fresh = "another process" in name

    def still_fails(data: dict[str, Any]) -> bool:
        found = examine_solid(data) if row["as_solid"] else examine(data, in_fresh_process=fresh)
        return any(fault.name == name for fault in found.faults)

    return shrink(random_body(row["seed"], row["number"]), still_fails, most_trials)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__.split("\n")[0], prog="python -m tests.sweep.population"
    )
    parser.add_argument("--bodies", type=int, default=2000)
    parser.add_argument("--jobs", type=int, default=n_cores(), help="processes; all cores if left out")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, default=FOLDER)
    parser.add_argument(
        "--solids", action="store_true", help="as CAD solids, held against their meshes, instead of checked"
    )
    parser.add_argument("--table-only", action="store_true", help="print the table of what is there")
    given = parser.parse_args()
    path = given.folder / f"seed-{given.seed}{'-solids' if given.solids else ''}.jsonl"
    if given.table_only:
        rows = list(read_rows(path, given.seed).values())
    else:
        rows = run(given.seed, given.bodies, given.jobs, path, as_solids=given.solids)
    print("\n".join(table(rows)))
    for case in [] if given.table_only else write_faults(rows, given.folder / "faults"):
        print(f"shrunk: {case}")
    return int(any(row["faults"] for row in rows))


if __name__ == "__main__":
    sys.exit(main())
