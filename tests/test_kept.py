"""What is worked out about an object is kept in it and goes with it; nothing else grows with the cases that are built."""

import ast
import gc
import pickle
import subprocess
import sys
import weakref
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

import print3d
from print3d import check
from print3d.kept import MOST, SHELF, kept
from print3d.mechanics.contact_patches import wedges_by_part
from print3d.mechanics.elastic import ElasticBody
from print3d.output.pictures.of_case import pictures_of, scene_of
from tests.conftest import in_ci
from tests.shaped import shaped

ROOT = Path(print3d.__file__).parent
PLAIN = {"str", "int", "float", "bool", "Language", "Sex", "FingerName", "Topic", "None", "Path"}
"""Types of what a function may be asked with whose results stay as long as the program runs: few, and small."""
OF_WORKERS = {"studies/sensitivity.py: _of_worker"}
"""One case in a process that ends with its study."""
MOST_GROWTH_MB = 100
"""Of five forearms after the first two: measured 454, 456, 502, 503, 498 MB in the process.

When functions kept results themselves it was 560, 826, 1115, 1281, 1282.
"""
FOREARMS = """
import resource
from pathlib import Path
from print3d import check, read, shape
for path in sorted(Path("params/cases").glob("dorsal_blocking*.toml")):
    check(shape(read(path)))
    print(int(next(line for line in open("/proc/self/status") if line.startswith("VmRSS")).split()[1]) // 1024)
"""


@dataclass(frozen=True)
class Owner:
    name: str


CALLS = list[tuple[object, ...]]()


@kept
def worked_out(owner: Owner, times: int = 1, *, more: str = "") -> list[str]:
    CALLS.append((owner.name, times, more))
    return [owner.name * times + more]


def test_an_object_keeps_its_results() -> None:
    CALLS.clear()
    first, second = Owner("a"), Owner("a")
    assert worked_out(first, 2) is worked_out(first, 2)
    assert worked_out(first, 3) == ["aaa"]
    assert worked_out(first, 2, more="b") == ["aab"]
    assert worked_out(second, 2) is not worked_out(first, 2)
    assert CALLS == [("a", 2, ""), ("a", 3, ""), ("a", 2, "b"), ("a", 2, "")]
    worked_out.forget(first)
    assert worked_out(first, 2) == ["aa"]
    assert len(CALLS) == 5


def test_an_object_keeps_no_more_than_so_many() -> None:
    CALLS.clear()
    owner = Owner("a")
    for number in range(MOST + 5):
        worked_out(owner, number)
    assert len(CALLS) == MOST + 5
    worked_out(owner, MOST + 4)
    assert len(CALLS) == MOST + 5
    worked_out(owner, 0)
    assert len(CALLS) == MOST + 6


def test_a_copy_for_another_process_takes_nothing_along() -> None:
    owner = Owner("a")
    worked_out(owner, 2)
    assert vars(owner)[SHELF]
    assert not vars(pickle.loads(pickle.dumps(owner)))[SHELF]


@pytest.mark.parametrize("name", ["mallet", "figure_of_eight", in_ci("dorsal_blocking_short")])
def test_results_go_with_their_object(name: str) -> None:
    """At once: nothing that an object keeps holds the object, so that no collector has to come first."""
    gc.collect()
    gc.disable()
    try:
        built = check(print3d.shape(shaped(name).case))
        scene_of(built)
        part, limb = built.modelled.parts[0], built.modelled.limb
        owners = (built, built.modelled, limb, part, part.shell.mesh, wedges_by_part(built.modelled)[0])
        gone = [weakref.ref(each) for each in owners]
        assert vars(part.shell.mesh)[SHELF]
        assert vars(limb)[SHELF]
        del built, part, limb, owners
        assert [each() for each in gone] == [None] * len(gone)
    finally:
        gc.enable()


def test_pictures_solve_nothing_that_the_check_has_solved(monkeypatch: pytest.MonkeyPatch) -> None:
    solved = list[object]()
    under = ElasticBody.under

    def counted(self: ElasticBody, *given: object, **named: object) -> object:
        solved.append(self)
        return under(self, *given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(ElasticBody, "under", counted)
    built = check(print3d.shape(shaped("relative_motion_flexion").case))
    by_the_check = len(solved)
    assert by_the_check > 0
    assert "stress" in scene_of(built).scales
    assert len(solved) == by_the_check
    assert pictures_of(built) is pictures_of(built)


# --- caches that stay -------------------------------------------------------------------------------------------------


def caches(file: str, text: str) -> Iterator[tuple[str, set[str]]]:
    """Yield each function whose results stay as long as the program runs, with the types of what it is asked with."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef) and any(
            "cache" in ast.unparse(each) for each in node.decorator_list
        ):
            if any(ast.unparse(each) == "cached_property" for each in node.decorator_list):
                continue
            given = [*node.args.args, *node.args.kwonlyargs]
            yield f"{file}: {node.name}", {ast.unparse(each.annotation) for each in given if each.annotation}


def test_what_stays_is_asked_with_words_and_numbers() -> None:
    found = {
        name: asked - PLAIN
        for path in ROOT.rglob("*.py")
        for name, asked in caches(path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8"))
    }
    assert len(found) > 10
    assert {name for name, asked in found.items() if asked} == OF_WORKERS


def test_a_planted_cache_of_objects_is_found() -> None:
    text = "@lru_cache(maxsize=4)\ndef surface(mesh: Mesh, n: int) -> Surface:\n    return Surface(mesh)\n"
    assert dict(caches("a.py", text)) == {"a.py: surface": {"Mesh", "int"}}
    assert not dict(
        caches("a.py", "class A:\n    @cached_property\n    def b(self) -> int:\n        return 1\n")
    )


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="/proc tells the memory of a process")
def test_a_long_lived_process_does_not_grow() -> None:
    done = subprocess.run([sys.executable, "-c", FOREARMS], capture_output=True, text=True, cwd=ROOT.parent)
    sizes = [int(line) for line in done.stdout.split()]
    assert len(sizes) == 5, done.stderr
    assert max(sizes[2:]) - sizes[1] < MOST_GROWTH_MB, sizes
