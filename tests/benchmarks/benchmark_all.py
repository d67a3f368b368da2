"""The whole performance table: every kind from shape to files, cold starts, memory, ratios to the CAD kernel, growth, and the largest costs.

    python tests/benchmarks/benchmark_all.py [case ...]     # some two minutes; one finger case: --quick

Times are CPU seconds of one thread after a warm-up, so that they do not hang on what else the machine does; each case runs in a process of
its own, whose peak memory is told. The CAD kernel tessellates the solid of the same definition in the same run, asked for the same error.
"""

import cProfile
import json
import os
import pstats
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from print3d import flow
from print3d.built import Built, shape_and_check
from print3d.checks.gap import check_gap
from print3d.checks.integrity import check_integrity
from print3d.checks.limits import limits_of_case
from print3d.checks.rims import check_rims
from print3d.checks.suite import CHECKS
from print3d.checks.wall import check_wall
from print3d.kinds.registry import KINDS
from print3d.output.files import writers
from print3d.output.formats import ALL
from print3d.shell.mesh import build_mesh
from print3d.shell.solid import build_solid
from tests.benchmarks.benchmark_shells import CASES, Size, growth, seconds, tessellate

ROOT = CASES.parents[1]
ONE_OF_EACH = (
    "mallet", "pip_extension", "mallet_with_pip_block", "mallet_with_pip_block_two_piece", "figure_of_eight",
    # guard: every kind
    "relative_motion_extension", "dorsal_blocking_short", "dorsal_blocking",
)  # fmt: skip
WARM_UP = "mallet"
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
# guard: memory without the parent's
LAUNCHER = """
import json, os, subprocess, sys, time
start = time.monotonic()
process = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
_, status, used = os.wait4(process.pid, 0)
spent = used.ru_utime + used.ru_stime, time.monotonic() - start, used.ru_maxrss
print(json.dumps([*spent, os.waitstatus_to_exitcode(status)]))
"""
"""A small process in between: a child starts out with the peak memory of its parent."""
SPACINGS_MM = (0.6, 0.35, 0.2)
GEOMETRIC = (check_integrity, check_wall, check_gap, check_rims)
LARGEST = 3
Costs = dict[str, Any]


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    start = time.process_time()
    result = work()
    return time.process_time() - start, result


def costs(name: str) -> Costs:
    """CPU seconds of every step of one case; what several formats share (advice, pictures) counts for the first that asks."""
    case = flow.read(CASES / f"{name}.toml")
    shape, orthosis = timed(lambda: KINDS[case.orthosis.kind].build(case))
    limits = limits_of_case(case)
    checks, findings = dict[str, float](), []
    for check in CHECKS:
        checks[check.name], found = timed(lambda check=check: check.answer(orthosis, limits))
        findings += found
    built = Built(case, orthosis, tuple(findings))
    with tempfile.TemporaryDirectory() as folder:
        exports = {key: timed(lambda key=key: _write(built, key, Path(folder)))[0] for key in ALL}
    meshing = sum(seconds(lambda part=part: build_mesh(part.definition)) for part in orthosis.parts)
    return {
        "name": name,
        "shape": shape,
        "checks": checks,
        "exports": exports,
        "mesh": meshing,
        **_by_the_kernel(orthosis),
        "triangles": sum(len(part.shell.mesh.faces) for part in orthosis.parts),
        "vents": sum(len(part.definition.pattern.vents) for part in orthosis.parts),
    }


def _write(built: Built, key: str, folder: Path) -> None:
    for name, write in writers(built, frozenset({key})).items():
        write(folder / name)


def _by_the_kernel(orthosis: Any) -> Costs:
    """Seconds for sewing the solids, and for tessellating them as finely as the mesh is."""
    sewn = tessellated = 0.0
    for part in orthosis.parts:
        spent, solid = timed(lambda part=part: build_solid(part.definition))
        sewn += spent
        error = part.definition.facets.error_mm or part.definition.facets.chord_error_mm
        tessellated += timed(lambda solid=solid, error=error: tessellate(solid, error))[0]
    return {"sewn": sewn, "tessellated": tessellated}


def one_process(name: str) -> Costs:
    """Run in a process of its own: warm up, then measure."""
    if name != WARM_UP:
        costs(WARM_UP)
    else:
        case = flow.read(CASES / "pip_extension.toml")
        built = shape_and_check(case)
        with tempfile.TemporaryDirectory() as folder:
            flow.write(built, Path(folder))
    found = costs(name)
    return {**found, "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}


def elsewhere(*command: str) -> tuple[float, float, float]:
    """CPU seconds, wall seconds and peak MB of a program in a process of its own."""
    asked = [sys.executable, "-c", LAUNCHER, *command]
    done = subprocess.run(
        asked,
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        # guard: one thread
        env=single_threaded(),
    )
    cpu, wall, peak_kb, code = json.loads(done.stdout.splitlines()[-1])
    # guard: a program that fails
    if code not in (0, 1):
        raise SystemExit(f"{' '.join(command)} ended with {code}")
    return cpu, wall, peak_kb / 1024


def single_threaded() -> dict[str, str]:
    return {**os.environ, **dict.fromkeys(THREADS, "1")}


def cold_starts() -> Iterator[str]:
    yield f"{'cold start':44} {'CPU s':>7} {'wall s':>7} {'peak MB':>8}"
    program = (sys.executable, "-m", "print3d")
    bare = (sys.executable, "-c", "import numpy, scipy.spatial, shapely")
    with tempfile.TemporaryDirectory() as folder:
        build = (*program, "build", str(CASES / "mallet.toml"), "--out", folder)
        for title, command in {
            "python with numpy, scipy and shapely": bare,
            "print3d --help": (*program, "--help"),
            "print3d check params/cases/mallet.toml": (*program, "check", str(CASES / "mallet.toml")),
            "print3d build params/cases/mallet.toml (stl)": (*build, "--formats", "stl"),
            "print3d build params/cases/mallet.toml (all)": build,
        }.items():
            cpu, wall, peak = elsewhere(*command)
            yield f"{title:44} {cpu:7.2f} {wall:7.2f} {peak:8.0f}"


def of_cases(names: list[str]) -> list[Costs]:
    found = []
    for name in names:
        done = subprocess.run(
            [sys.executable, __file__, "--one", name],
            capture_output=True,
            text=True,
            check=True,
            env=single_threaded(),
        )
        found.append(json.loads(done.stdout.splitlines()[-1]))
        print(f"  measured {name}", file=sys.stderr, flush=True)
    return found


def table(rows: list[Costs]) -> Iterator[str]:
    heads = ["shape", "checks", *ALL, "all", "peak MB"]
    yield f"{'CPU s':32}" + "".join(f"{head:>8}" for head in heads)
    for row in rows:
        steps = [row["shape"], sum(row["checks"].values()), *(row["exports"][key] for key in ALL)]
        numbers = "".join(f"{step:8.2f}" for step in (*steps, sum(steps)))
        yield f"{row['name']:32}{numbers}{row['peak_mb']:8.0f}"
    yield ""
    yield f"{'against the CAD kernel':32}{'triangles':>10}{'vents':>7}{'mesh s':>9}{'sewn s':>9}{'tessellated s':>15}{'ratio':>7}"
    for row in rows:
        numbers = f"{row['mesh']:9.3f}{row['sewn']:9.2f}{row['tessellated']:15.2f}{row['tessellated'] / row['mesh']:7.0f}"
        yield f"{row['name']:32}{row['triangles']:10}{row['vents']:7}{numbers}"
    yield ""
    yield f"the {LARGEST} largest costs of each"
    for row in rows:
        ranked = sorted(
            steps_of(row).items(),
            # guard: largest costs first
            key=lambda item: -item[1],
        )[:LARGEST]
        whole = sum(steps_of(row).values())
        yield f"{row['name']:32}" + ", ".join(
            f"{name} {cost:.2f} s ({cost / whole:.0%})" for name, cost in ranked
        )


def steps_of(row: Costs) -> Mapping[str, float]:
    checks = {f"check {name}": cost for name, cost in row["checks"].items()}
    return {
        "shape": row["shape"],
        **checks,
        **{f"write {name}": cost for name, cost in row["exports"].items()},
    }


def growths() -> Iterator[str]:
    """Exponents of time over size: 1 is in proportion."""
    by_vents = growth([Size(40.0, 200.0, n) for n in (60, 240, 900)], lambda s: s.n_vents)
    yield f"{'mesh over number of vents':44} {by_vents:5.2f}   (wanted: at most 1.1)"
    by_area = growth(
        [Size(10.0 * k, 60.0 * k, 10_000) for k in (1.0, 1.4, 2.0)], lambda s: s.radius * s.length
    )
    yield f"{'mesh over area':44} {by_area:5.2f}   (wanted: at most 1.1)"
    case = flow.read(CASES / f"{WARM_UP}.toml")
    orthosis, limits = KINDS[case.orthosis.kind].build(case), limits_of_case(case)
    part = orthosis.parts[0]
    sizes, spent = [], dict[str, list[float]]()
    for spacing in SPACINGS_MM:
        mesh = build_mesh(
            replace(part.definition, facets=replace(part.definition.facets, spacing_mm=spacing))
        )
        planned = np.full(len(mesh.inner_vertices), case.orthosis.clearance_mm)
        finer = replace(part, shell=mesh, planned_gap_mm=planned, skin_vertices=mesh.inner_vertices)
        sizes.append(len(mesh.mesh.faces))
        for check in GEOMETRIC:
            asked = replace(orthosis, parts=(finer,))
            spent.setdefault(check.__name__[6:], []).append(seconds(lambda c=check, a=asked: c(a, limits)))
    for name, times in spent.items():
        exponent = np.polyfit(np.log(sizes), np.log(times), 1)[0]
        yield f"{f'check {name} over number of triangles':44} {exponent:5.2f}   ({sizes[0]} to {sizes[-1]} triangles)"


def profile(name: str) -> Iterator[str]:
    """The functions in which a check of one case spends most of its time itself."""
    case = flow.read(CASES / f"{name}.toml")
    profiler = cProfile.Profile()
    profiler.runcall(shape_and_check, case)
    stats = pstats.Stats(profiler)
    whole = stats.total_tt  # type: ignore[attr-defined]
    ranked = sorted(stats.stats.items(), key=lambda item: -item[1][2])  # type: ignore[attr-defined]
    yield f"where a check of {name} spends its own time ({whole:.2f} s under the profiler)"
    for (file, line, function), (_, calls, own, _, _) in ranked[:LARGEST]:
        place = f"{Path(file).name}:{line} " if line else ""
        yield f"  {own / whole:5.0%}  {calls:6} x  {place}{function}"


def main(given: list[str]) -> None:
    if given[:1] == ["--one"]:
        print(json.dumps(one_process(given[1])))
        return
    names = (
        ["mallet"] if "--quick" in given else [name for name in given if name[0] != "-"] or list(ONE_OF_EACH)
    )
    load = f"load of the machine {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    print(f"{sys.version.split()[0]}, {os.cpu_count()} cores, {load}", flush=True)
    print("\n" + "\n".join(cold_starts()), flush=True)
    print("\n" + "\n".join(table(of_cases(names))), flush=True)
    print("\nexponents of time over size\n" + "\n".join(growths()), flush=True)
    print("\n" + "\n".join(profile(names[0])), flush=True)


if __name__ == "__main__":
    os.environ.update(dict.fromkeys(THREADS, "1"))
    main(sys.argv[1:])
