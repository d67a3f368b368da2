"""The sweep itself: a few bodies always, some hundreds as slow tests, and proof that it finds, keeps and shrinks what is wrong."""

import json
import time
from collections import Counter
from collections.abc import Callable, Iterator
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from print3d import built
from print3d.checks.finding import Finding
from print3d.errors import ShapingError, StudyError
from print3d.forms.orthosis import Orthosis
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import skin_surface
from print3d.inputs.case import Case
from print3d.inputs.options import OrthosisOptions
from print3d.inputs.toml_file import read_toml
from print3d.inputs.validation import validate
from print3d.kinds.registry import KINDS
from print3d.language.message import as_it_stands
from tests.checks.made import pressed
from tests.conftest import CASES, in_ci
from tests.sweep import examine as examined
from tests.sweep import population
from tests.sweep.designs import any_kind
from tests.sweep.examine import Examined, Fault, examine, examine_solid, random_body
from tests.sweep.people import person
from tests.sweep.population import Job, program, read_rows, run, take, write_faults
from tests.sweep.shrink import shrink
from tests.sweep.table import reason, table

SEED = 20
QUICK, BODIES, BLOCK = 2, 300, 10
MALLET = read_toml(CASES / "mallet.toml")
Tables = dict[str, Any]


def told(body: Examined) -> list[str]:
    return [f"{fault.name}: {fault.told}" for fault in body.faults]


@pytest.mark.parametrize("number", [in_ci(0), *range(1, QUICK)])
def test_a_random_body(number: int) -> None:
    assert told(take(Job(SEED, number))) == []


@pytest.mark.slow
@pytest.mark.parametrize("first", range(0, BODIES, BLOCK))
def test_random_bodies(first: int) -> None:
    taken = {number: take(Job(SEED, number)) for number in range(first, first + BLOCK)}
    assert {number: told(body) for number, body in taken.items() if body.faults} == {}
    assert sum(not body.refusal for body in taken.values()) >= BLOCK / 3


def test_every_kind_has_its_share() -> None:
    rng = np.random.default_rng(7)
    drawn = Counter(any_kind(rng) for _ in range(4000))
    total = sum(kind.sweep.share for kind in KINDS.values())
    assert drawn.keys() == KINDS.keys()
    for name, kind in KINDS.items():
        assert drawn[name] / 4000 == pytest.approx(kind.sweep.share / total, abs=0.03)


@pytest.mark.parametrize("name", KINDS)
def test_a_kind_draws_only_options_that_it_takes(name: str) -> None:
    """Not one of the drawn numbers lies outside the kind's own limits, for a child and for an adult."""
    kind, rng = KINDS[name], np.random.default_rng(3)
    for size in (0.55, 1.0):
        for _ in range(50):
            problems = validate(kind.options, {"kind": name, **kind.sweep.draw(rng, size)}).problems
            assert [each.text() for each in problems] == []


def test_people_are_spread_over_the_norms_and_of_every_sort() -> None:
    people = [person(np.random.default_rng(number))["measured"] for number in range(400)]
    ages = [each["age_years"] for each in people if "age_years" in each]
    lengths = [each["hand_length_mm"] for each in people if "hand_length_mm" in each]
    assert {each.get("sex") for each in people} == {"woman", "man", None}
    assert 60 < len(ages) < 140
    assert min(ages) < 5.0
    assert max(ages) > 15.0
    assert min(lengths) < 120.0
    assert max(lengths) > 215.0
    assert any("hand_breadth_mm" not in each for each in people)


def test_the_same_body_each_time_and_another_for_another_seed() -> None:
    assert random_body(3, 7) == random_body(3, 7)
    assert random_body(3, 7) != random_body(4, 7)
    assert random_body(3, 7) != random_body(3, 8)


# --- planted faults -----------------------------------------------------------------------------------------


def opened(mesh: Mesh) -> Mesh:
    """One triangle is missing."""
    return replace(mesh, faces=mesh.faces[:-1])


def shifted(mesh: Mesh) -> Mesh:
    """Pressed 2 mm into the skin."""
    return replace(mesh, vertices=mesh.vertices + [0.0, 0.0, 2.0])


def turned_inside_out(mesh: Mesh) -> Mesh:
    return replace(mesh, faces=mesh.faces[:, ::-1])


def two_bodies(mesh: Mesh) -> Mesh:
    vertices = np.vstack([mesh.vertices, mesh.vertices + [0.0, 0.0, 40.0]])
    return Mesh(vertices, np.vstack([mesh.faces, mesh.faces + len(mesh.vertices)]))


def jittered(mesh: Mesh) -> Mesh:
    """Another last bit each time."""
    noise = np.random.default_rng().normal(scale=1e-12, size=mesh.vertices.shape)
    return replace(mesh, vertices=mesh.vertices + noise)


def pushed_through(mesh: Mesh) -> Mesh:
    """A patch of the outside stands out on the inside: still closed, still one body."""
    vertices = mesh.vertices.copy()
    top = vertices[:, 2].argmax()
    near = np.linalg.norm(vertices - vertices[top], axis=1) < 1.5
    vertices[near & (vertices[:, 2] > vertices[top, 2] - 0.5), 2] -= 4.0
    return replace(mesh, vertices=vertices)


PLANTED_BODIES: dict[str, Callable[[Mesh], Mesh]] = {
    "open": opened,
    "runs through itself": pushed_through,
    "in the skin": shifted,
    "no volume": turned_inside_out,
    "several bodies": two_bodies,
    "not repeatable": jittered,
}


@pytest.mark.parametrize(("name", "spoil"), PLANTED_BODIES.items(), ids=PLANTED_BODIES)
def test_a_kind_that_makes_a_bad_body_is_found(
    name: str, spoil: Callable[[Mesh], Mesh], monkeypatch: pytest.MonkeyPatch
) -> None:
    kind = KINDS["mallet"]

    def spoilt(case: Case, options: OrthosisOptions) -> Orthosis:
        orthosis = kind.shape(case, options)
        part = orthosis.parts[0]
        mesh = spoil(part.shell.mesh)
        face_kind = np.resize(part.shell.face_kind, len(mesh.faces))
        return replace(
            orthosis, parts=(replace(part, shell=replace(part.shell, mesh=mesh, face_kind=face_kind)),)
        )

    monkeypatch.setitem(KINDS, "mallet", replace(kind, shape=spoilt))
    monkeypatch.setattr(built, "run_suite", lambda *_: [])
    assert name in {fault.name for fault in examine(MALLET).faults}


@pytest.fixture(scope="module")
def mallet() -> Orthosis:
    return KINDS["mallet"].build(examined.case_of(MALLET))


def with_mesh(orthosis: Orthosis, mesh: Mesh) -> Orthosis:
    part = orthosis.parts[0]
    return replace(orthosis, parts=(replace(part, shell=replace(part.shell, mesh=mesh)),))


def faults_of(orthosis: Orthosis) -> set[str]:
    return {fault.name for fault in examined.body_faults(orthosis)}


@pytest.mark.parametrize("number", [np.nan, np.inf])
def test_a_place_that_is_no_number_is_found(mallet: Orthosis, number: float) -> None:
    vertices = mallet.parts[0].shell.mesh.vertices.copy()
    vertices[7, 1] = number
    assert faults_of(with_mesh(mallet, replace(mallet.parts[0].shell.mesh, vertices=vertices))) == {
        "vertices not finite"
    }


@pytest.mark.parametrize(("deep_mm", "is_fault"), [(0.45, False), (0.55, True)])
def test_half_a_millimetre_into_the_skin_is_allowed_and_no_more(
    mallet: Orthosis, deep_mm: float, is_fault: bool
) -> None:
    """One vertex is laid under the skin, straight below where it was."""
    skin, mesh = skin_surface(mallet.limb), mallet.parts[0].shell.mesh
    vertices = mesh.vertices.copy()
    foot = skin.signed_and_nearest(vertices[:1])[1][0]
    down = (foot - vertices[0]) / np.linalg.norm(foot - vertices[0])
    vertices[0] = foot + deep_mm * down
    found = faults_of(with_mesh(mallet, replace(mesh, vertices=vertices)))
    assert ("in the skin" in found) == is_fault


@pytest.mark.slow(in_ci=True)
def test_another_body_in_another_process_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(built, "run_suite", lambda *_: [])
    other = {**MALLET, "orthosis": {**MALLET["orthosis"], "wall_mm": 2.4}}
    assert examined.fingerprint_elsewhere(MALLET) == examine(MALLET).fingerprint
    monkeypatch.setattr(examined, "fingerprint_elsewhere", lambda _: examine(other).fingerprint)
    assert "not repeatable in another process" in {
        fault.name for fault in examine(MALLET, in_fresh_process=True).faults
    }


@pytest.mark.parametrize("spoil", [None, shifted, turned_inside_out])
def test_a_solid_that_differs_from_its_mesh_is_found(
    spoil: Callable[[Mesh], Mesh] | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    kind = KINDS["mallet"]

    def spoilt(case: Case, options: OrthosisOptions) -> Orthosis:
        orthosis = kind.shape(case, options)
        part = orthosis.parts[0]
        mesh = spoil(part.shell.mesh) if spoil else part.shell.mesh
        return replace(orthosis, parts=(replace(part, shell=replace(part.shell, mesh=mesh)),))

    monkeypatch.setitem(KINDS, "mallet", replace(kind, shape=spoilt))
    assert [fault.name for fault in examine_solid(MALLET).faults] == ["solid and mesh differ"] * (
        spoil is not None
    )


def test_what_the_kernel_cannot_build_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuses(_: object) -> None:
        raise ShapingError(as_it_stands("sewing the faces left 2 solids, expected 1"))

    monkeypatch.setattr("print3d.shell.solid.build_solid", refuses)
    assert [fault.name for fault in examine_solid(MALLET).faults] == ["no solid"]


def test_a_solid_that_is_no_single_body_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """The right shape in the wrong wrapping: a compound, which has the same faces and the same volume."""
    import cadquery

    from print3d.shell.solid import build_solid

    monkeypatch.setattr(
        "print3d.shell.solid.build_solid", lambda each: cadquery.Compound.makeCompound([build_solid(each)])
    )
    assert [fault.name for fault in examine_solid(MALLET).faults] == ["solid and mesh differ"]


def a_finding(**changed: Any) -> Finding:
    return replace(replace(pressed(1.0, 2.0, watch=None), where=(0.0, 0.0, 0.0)), **changed)


PLANTED_FINDINGS: dict[str, tuple[list[Finding], str]] = {
    "no number": ([a_finding(measured=float("nan"))], "not finite: pressure"),
    "no limit": ([a_finding(limit=(0.0, float("inf")), sense="between")], "not finite: pressure"),
    "no place": ([a_finding(where=(0.0, float("nan"), 0.0))], "not finite: pressure"),
    "no mark from which it is watched": ([a_finding(watch=float("nan"))], "not finite: pressure"),
    "nothing found at all": ([], "no finding"),
}


@pytest.mark.parametrize(("findings", "name"), PLANTED_FINDINGS.values(), ids=PLANTED_FINDINGS)
def test_a_check_without_a_number_is_found(
    findings: list[Finding], name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(built, "run_suite", lambda *_: findings)
    assert name in {fault.name for fault in examine(MALLET).faults}


def test_an_exception_is_found_with_its_traceback(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> list[Finding]:
        raise ZeroDivisionError("made")

    monkeypatch.setattr(built, "run_suite", fails)
    (fault,) = examine(MALLET).faults
    assert fault.name == "ZeroDivisionError in built.py: findings_of"
    assert "Traceback" in fault.told


def test_a_body_without_end_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    def endless(*_: object) -> list[Finding]:
        end = (
            time.monotonic() + 20.0
        )  # far beyond what is allowed, so that the test ends without the guard too
        while time.monotonic() < end:
            pass
        return []

    monkeypatch.setattr(examined, "MOST_SECONDS", 2)
    monkeypatch.setattr(built, "run_suite", endless)
    (fault,) = examine(MALLET).faults
    assert fault.name.startswith("TimeoutError")


def test_a_refusal_without_a_number_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuses(*_: object) -> list[Finding]:
        raise ShapingError(as_it_stands("it does not fit"))

    monkeypatch.setattr(built, "run_suite", refuses)
    assert [fault.name for fault in examine(MALLET).faults] == ["refused without a number"]


# --- rows, shrinking, table ---------------------------------------------------------------------------------


def made_row(number: int, **changed: Any) -> Tables:
    row: Tables = {
        "seed": 1,
        "as_solid": False,
        "program": program(),
        "number": number,
        "kind": "mallet",
        "refusal": "",
        "faults": [],
    }
    costs = {
        "failed": [],
        "n_findings": 9,
        "n_triangles": 100,
        "build_s": 0.1,
        "checks_s": 0.5,
        "fingerprint": "a",
    }
    return {**row, **costs, **changed}


@pytest.mark.slow(in_ci=True)
def test_a_stopped_sweep_goes_on(tmp_path: Path) -> None:
    """Rows that are there are kept, a line cut short and rows of another program are taken again."""
    path = tmp_path / "seed-1.jsonl"
    lines = [json.dumps(made_row(0)), json.dumps(made_row(1, program="older")), json.dumps(made_row(2))[:40]]
    path.write_text("\n".join(lines), encoding="utf-8")
    assert set(read_rows(path, 1)) == {0}
    rows = run(1, 3, 1, path)
    assert [row["number"] for row in rows] == [0, 1, 2]
    assert rows[0] == made_row(0)
    assert set(read_rows(path, 1)) == {0, 1, 2}


def test_a_body_that_ends_its_process_is_a_fault_of_that_body(monkeypatch: pytest.MonkeyPatch) -> None:
    def dies(*_: object, **__: object) -> Iterator[tuple[int, Examined]]:
        yield 0, Examined("mallet")
        raise StudyError(as_it_stands("workers ended 3 times without a result"))

    monkeypatch.setattr(population, "run_all", dies)
    taken = dict(population._all([Job(1, 0), Job(1, 1)], 1))
    assert not taken[0].faults
    assert [fault.name for fault in taken[1].faults] == ["the process ended"]


def test_shrinking_leaves_what_matters() -> None:
    body = random_body(1, 8)
    body["orthosis"] |= {"wall_mm": 2.7, "clearance_mm": 0.83}

    def fails(data: Tables) -> bool:
        orthosis = data["orthosis"]
        return orthosis.get("wall_mm", 2.0) > 2.5 and orthosis.get("clearance_mm", 0.5) > 0.8

    least = shrink(deepcopy(body), fails)
    assert least == {
        "case": {"code": "SW-1", "side": "right", "finger": body["case"]["finger"]},
        "measured": {},
        "orthosis": {"kind": body["orthosis"]["kind"], "wall_mm": 3.0, "clearance_mm": 1.0},
        "print": {"material": "petg", "printer": "extrusion_large"},
    }


def test_shrinking_ends() -> None:
    asked = []
    shrink(random_body(1, 8), lambda data: not asked.append(data), most_trials=7)
    assert len(asked) == 7


@pytest.mark.slow(in_ci=True)
def test_a_fault_becomes_a_small_case_with_its_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> list[Finding]:
        raise ZeroDivisionError("made")

    monkeypatch.setattr(built, "run_suite", fails)
    number = next(n for n in range(50) if random_body(1, n)["orthosis"]["kind"] == "figure_of_eight")
    body = examine(random_body(1, number))
    fault = body.faults[0]
    row = made_row(number, faults=[{"name": fault.name, "told": fault.told}])
    (path,) = write_faults([row], tmp_path, most_trials=12)
    assert examine(read_toml(path)).faults[0].name == fault.name
    assert len(path.read_text().splitlines()) < 35
    assert "Traceback" in path.with_suffix(".txt").read_text()


def test_the_table_counts() -> None:
    fault = {"name": "open", "told": "3 edges"}
    refusal = "case.toml: orthosis.straps.width_mm = 10: its slot does not fit"
    rows = [
        made_row(0),
        made_row(1, failed=["pressure"]),
        made_row(2, faults=[fault]),
        made_row(3, refusal=refusal, n_findings=0),
    ]
    lines = list(table(rows))
    assert lines[2].split()[:5] == ["mallet", "4", "3", "1", "1"]
    assert any(line.split() == ["mallet", "orthosis.straps.width_mm", "1"] for line in lines)
    assert any(line.split() == ["pressure", "33.3%"] for line in lines)
    assert any("1 x open: bodies 2" in line for line in lines)


@pytest.mark.parametrize(
    ("refusal", "key"),
    [
        ("case.toml: orthosis.vents.open_fraction = 0.3: too much", "orthosis.vents.open_fraction"),
        ("/a b/c_d.toml: measured.little.web_girth_mm = 27: no", "measured.little.web_girth_mm"),
        ("the shell folds over itself at along -7.9 mm", "the shell folds over itself at along # mm"),
    ],
)
def test_reasons_are_keys(refusal: str, key: str) -> None:
    assert reason(refusal) == key


def test_fault_is_named_without_its_numbers() -> None:
    assert Fault("open", "3 edges").name == "open"
