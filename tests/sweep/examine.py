"""One body of the sweep: a random case, taken through the whole flow and asked for everything that must always be true."""

import hashlib
import json
import math
import os
import re
import signal
import subprocess
import sys
import time
import traceback
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from print3d import flow
from print3d.checks.finding import Finding
from print3d.checks.integrity import count_bodies, measure_open_edges, measure_overlaps
from print3d.errors import InputError, LimbError, ShapingError
from print3d.forms.orthosis import Orthosis
from print3d.geometry.nearest import skin_surface
from print3d.inputs.case import Case
from print3d.inputs.case_file import case_from_data
from print3d.kinds.registry import KINDS
from tests.conftest import CASES
from tests.sweep.designs import any_kind, design
from tests.sweep.people import person
from tests.taped import taped

# guard: depth in the skin
MOST_PENETRATION_MM = 0.5
SOLID_FACET_MM = 0.05
MOST_SECONDS = 400
"""Of wall time; a body that takes longer is a fault."""
FRESH_EVERY = 20
"""One body in so many is built again in a new process with another hash seed."""
ALWAYS = frozenset({"integrity", "wall", "rims", "gap", "printability"})
"""Checks that have something to say about every orthosis."""


@dataclass(frozen=True)
class Fault:
    """What must never be. `name` stays the same while a case is shrunk; `told` has the numbers, and the traceback if there is one."""

    name: str
    told: str


@dataclass(frozen=True)
class Examined:
    """What became of one body.

    refusal : the whole message, or "" if it was built
    failed : names of the checks that found something outside its limit
    build_s, checks_s : CPU seconds
    """

    kind: str
    refusal: str = ""
    faults: tuple[Fault, ...] = ()
    failed: tuple[str, ...] = ()
    n_findings: int = 0
    n_triangles: int = 0
    build_s: float = 0.0
    checks_s: float = 0.0
    fingerprint: str = ""


def random_body(seed: int, number: int) -> dict[str, Any]:
    """Return the tables of body `number` of a sweep."""
    rng = np.random.default_rng([seed, number])
    kind = any_kind(rng)
    who = person(rng)
    who["case"]["code"] = f"SW-{seed}-{number}"
    return {**who, "measured": taped(who["measured"]), **design(rng, kind, who)}


def case_of(data: Mapping[str, Any]) -> Case:
    return case_from_data(data, {name: kind.options for name, kind in KINDS.items()}, CASES / "made.toml")


def examine(data: Mapping[str, Any], *, in_fresh_process: bool = False) -> Examined:
    """Take a case through the flow. Never raises: an exception is a fault of the body."""
    return _asked(data, partial(_examined, in_fresh_process=in_fresh_process))


def examine_solid(data: Mapping[str, Any]) -> Examined:
    """Build a case as mesh and as CAD solids, and hold them against each other. Never raises."""
    return _asked(data, _examined_solid)


def _asked(data: Mapping[str, Any], question: Callable[[Mapping[str, Any]], Examined]) -> Examined:
    kind = str(data["orthosis"]["kind"])
    try:
        with _in_time():
            return question(data)
    except (InputError, LimbError, ShapingError) as refusal:
        told = str(refusal)
        # guard: a refusal with its number
        silent = (Fault("refused without a number", told),) if not re.search(r"\d", told) else ()
        return Examined(kind, told, silent)
    # guard: no exception
    except Exception as error:
        return Examined(kind, faults=(Fault(_place_of(error), traceback.format_exc()),))


def _examined(data: Mapping[str, Any], *, in_fresh_process: bool) -> Examined:
    case = case_of(data)
    clock = [time.process_time()]
    built = flow.shape(case)
    clock.append(time.process_time())
    built = flow.check(built)
    clock.append(time.process_time())
    orthosis, findings = built.modelled, built.findings
    mark = fingerprint(orthosis)
    faults = [*body_faults(orthosis), *finding_faults(findings)]
    # guard: the same bytes again
    if (again := fingerprint(KINDS[case.orthosis.kind].build(case_of(data)))) != mark:
        faults.append(Fault("not repeatable", f"{mark} first, {again} when built again"))
    # guard: the same bytes in another process
    if in_fresh_process and (elsewhere := fingerprint_elsewhere(data)) != mark:
        faults.append(Fault("not repeatable in another process", f"{mark} here, {elsewhere} there"))
    return Examined(
        case.orthosis.kind,
        faults=tuple(faults),
        failed=tuple(sorted({finding.check for finding in findings if not finding.holds})),
        n_findings=len(findings),
        n_triangles=sum(len(part.shell.mesh.faces) for part in orthosis.parts),
        build_s=clock[1] - clock[0],
        checks_s=clock[2] - clock[1],
        fingerprint=mark,
    )


def _examined_solid(data: Mapping[str, Any]) -> Examined:
    case = case_of(data)
    start = time.process_time()
    orthosis = KINDS[case.orthosis.kind].build(case)
    built = time.process_time()
    faults = tuple(solid_faults(orthosis))
    return Examined(
        case.orthosis.kind,
        faults=faults,
        n_findings=len(orthosis.parts),
        n_triangles=sum(len(part.shell.mesh.faces) for part in orthosis.parts),
        build_s=built - start,
        checks_s=time.process_time() - built,
    )


def solid_faults(orthosis: Orthosis) -> Iterator[Fault]:
    """Yield parts that the CAD kernel cannot build, and solids that are no single valid body or differ from their mesh."""
    from print3d.shell.solid import build_solid
    from tests.shell.solids import assert_agree, assert_one_closed_body

    for part in orthosis.parts:
        pattern = part.definition.pattern
        try:
            solid = build_solid(part.definition)
        except ShapingError as error:
            # guard: a solid at all
            yield Fault("no solid", f"{part.name}: {error}")
            continue
        try:
            # guard: one closed body
            assert_one_closed_body(solid, len(pattern.holes) + len(pattern.boundary) - 1)
            # guard: agreement with the mesh
            assert_agree(solid, part.shell.mesh, SOLID_FACET_MM)
        except AssertionError:
            yield Fault("solid and mesh differ", f"{part.name}: {traceback.format_exc()}")


def body_faults(orthosis: Orthosis) -> Iterator[Fault]:
    """Yield what is wrong with the parts as bodies, and where they run into the skin."""
    skin = skin_surface(orthosis.limb)
    for part in orthosis.parts:
        mesh = part.shell.mesh
        # guard: numbers for places
        if not np.isfinite(mesh.vertices).all():
            yield Fault("vertices not finite", part.name)
            continue
        # guard: closed
        if (open_edges := measure_open_edges(mesh)[0]) > 0:
            yield Fault("open", f"{part.name}: {open_edges} edges")
        # guard: one body
        if (bodies := count_bodies(mesh)) != 1:
            yield Fault("several bodies", f"{part.name}: {bodies}")
        # guard: no overlap with itself
        if (overlaps := measure_overlaps(mesh)[0]) > 0:
            yield Fault("runs through itself", f"{part.name}: {overlaps} places")
        # guard: positive volume
        if not mesh.volume_mm3() > 0.0:
            yield Fault("no volume", f"{part.name}: {mesh.volume_mm3():.3f} mm3")
        if (deepest := -float(skin.signed(mesh.vertices).min())) > MOST_PENETRATION_MM:
            yield Fault("in the skin", f"{part.name}: {deepest:.3f} mm")


def finding_faults(findings: list[Finding]) -> Iterator[Fault]:
    """Yield findings with a number that is none, and checks that said nothing."""
    for finding in findings:
        limits = finding.limit if isinstance(finding.limit, tuple) else (finding.limit,)
        numbers = [
            finding.measured,
            *limits,
            *(finding.where or ()),
            *([] if finding.watch is None else [finding.watch]),
        ]
        # guard: findings are numbers
        if not all(math.isfinite(number) for number in numbers):
            yield Fault(f"not finite: {finding.check}", f"{finding.said('en')}: {numbers}")
    # guard: findings are there
    if missing := ALWAYS - {finding.check for finding in findings}:
        yield Fault("no finding", ", ".join(sorted(missing)))


def fingerprint(orthosis: Orthosis) -> str:
    """Return a digest of every byte of every part's mesh."""
    digest = hashlib.sha256()
    for part in orthosis.parts:
        digest.update(part.name.encode())
        digest.update(np.ascontiguousarray(part.shell.mesh.vertices).tobytes())
        digest.update(np.ascontiguousarray(part.shell.mesh.faces).tobytes())
    return digest.hexdigest()[:16]


def fingerprint_elsewhere(data: Mapping[str, Any]) -> str:
    """Return the digest of a case that a new process with another hash seed builds."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.sweep.examine"],
        input=json.dumps(data),
        env={**os.environ, "PYTHONHASHSEED": "4711"},
        capture_output=True,
        text=True,
        check=False,
    )
    return done.stdout.strip() or done.stderr.strip()[-500:]


def _place_of(error: Exception) -> str:
    """Return the error's type and the innermost function of the program that it went through."""
    frames = traceback.extract_tb(error.__traceback__)
    program = os.path.dirname(flow.__file__)
    own = [frame for frame in frames if frame.filename.startswith(program)]
    at = own[-1] if own else frames[-1]
    return f"{type(error).__name__} in {at.filename.rsplit('/', 1)[-1]}: {at.name}"


@contextmanager
def _in_time() -> Iterator[None]:
    """Raise TimeoutError after `MOST_SECONDS`."""

    def late(*_: object) -> None:
        raise TimeoutError(f"no end after {MOST_SECONDS} s")

    before = signal.signal(signal.SIGALRM, late)
    # guard: an end in time
    signal.alarm(MOST_SECONDS)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


if __name__ == "__main__":
    given = case_of(json.load(sys.stdin))
    print(fingerprint(KINDS[given.orthosis.kind].build(given)))
