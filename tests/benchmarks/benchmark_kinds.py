"""Where the time of each worked case goes: its shape and every check, in CPU seconds after imports, and against bare imports.

Run: OMP_NUM_THREADS=1 python tests/benchmarks/benchmark_kinds.py [case ...]
"""

import os
import subprocess
import sys
import time
from pathlib import Path

from print3d import flow
from print3d.checks.limits import limits_of_case
from print3d.checks.suite import CHECKS, run_suite
from print3d.orthoses.registry import KINDS

CASES = Path(__file__).parents[2] / "params" / "cases"
WARM_UP = "mallet"
SHOWN_S = 0.01


def cpu_seconds(work: object, *given: object) -> tuple[float, object]:
    start = time.process_time()
    result = work(*given)  # type: ignore[operator]
    return time.process_time() - start, result


def costs(path: Path) -> dict[str, float]:
    """Return CPU seconds of the shape and of each check of one case."""
    case = flow.read(path)
    shape, orthosis = cpu_seconds(KINDS[case.orthosis.kind].build, case)
    limits = limits_of_case(case)
    checks = {check.__name__[6:]: cpu_seconds(check, orthosis, limits)[0] for check in CHECKS}
    return {"shape": shape, **checks}


def main(names: list[str]) -> None:
    bare = "import time, numpy, scipy, trimesh; print(time.process_time())"
    imports = float(
        subprocess.run([sys.executable, "-c", bare], capture_output=True, text=True, check=True).stdout
    )
    warm = flow.read(CASES / f"{WARM_UP}.toml")
    run_suite(KINDS[warm.orthosis.kind].build(warm), limits_of_case(warm))
    print(f"load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    for path in sorted(CASES.glob("*.toml")):
        if names and path.stem not in names:
            continue
        found = costs(path)
        total = sum(found.values())
        checks = total - found["shape"]
        ranked = sorted(found.items(), key=lambda item: -item[1])
        parts = ", ".join(f"{name} {seconds:.2f}" for name, seconds in ranked if seconds >= SHOWN_S)
        print(
            f"{path.stem:34} {total:5.2f} s, checks {checks:5.2f} s  ({total / imports:.1f} x importing numpy, scipy, trimesh)  {parts}",
            flush=True,
        )


if __name__ == "__main__":
    main(sys.argv[1:])
