"""The house's floors: a room imports only from its own floor or a lower one, and every library stays in its rooms.

Each rule is a function from one import to a complaint, so that faults can be planted and seen to be found.
"""

import ast
import re
import sys
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

HOME = Path(__file__).parents[1]
ROOT = HOME / "print3d"
FLOORS = [
    "errors", "kept", "language", "workers", "geometry", "inputs", "limb", "shell", "forms", "kinds", "mechanics", "printing",
    "checks", "design", "built", "training", "guidance", "studies", "output", "flow", "cli",
]  # fmt: skip

ROOMS_OF = {
    "cadquery": ("shell/solid.py", "output/mesh/step.py", "training/solid.py"),
    "OCP": ("shell/solid.py", "output/mesh/step.py"),
    "typer": ("cli/",),
    "rich": ("cli/",),
    "pydantic": ("inputs/", "forms/", "kinds/", "guidance/"),
    "ngsolve": ("mechanics/elastic.py",),
    "netgen": ("mechanics/elastic.py",),
    "highspy": ("mechanics/best_move.py",),
    "manifold3d": ("training/",),
    "rectpack": ("training/",),
    "reportlab": ("output/",),
    "igl": ("geometry/nearest.py", "checks/integrity.py", "output/mesh/thinning.py", "training/level_set.py"),
    "lib3mf": ("output/mesh/",),
    "PIL": ("output/",),
    "ezdxf": ("output/paper/",),
    "fontTools": ("shell/letters.py", "output/"),
}
"""Library -> the only files or rooms that may import it."""

GEOMETRY_NEEDS = {"numpy", "scipy", "shapely", "igl", "print3d"} | set(sys.stdlib_module_names)
CAD_ROOMS = ("print3d.shell.solid", "print3d.output.mesh.step", "print3d.training.solid")
COMMON = {
    "checks": ("finding", "limits", "passive_range", "skin_limits", "suite"),
    "kinds": ("kind", "measures", "random_designs", "registry"),
}
"""What every occupant of a room may import from it: what an occupant is, and where all of them are found."""
PACKAGE_OF = {"PIL": "pillow", "netgen": "netgen-mesher", "igl": "libigl", "fcl": "python-fcl", "OCP": "cadquery", "pydantic_core": "pydantic",
              "annotated_types": "annotated-types"}  # fmt: skip


@dataclass(frozen=True)
class Import:
    """One imported module: by which file, and whether already when that file is imported."""

    file: str
    name: str
    is_lazy: bool = False

    @property
    def library(self) -> str:
        return self.name.split(".")[0]

    def __str__(self) -> str:
        return f"{self.file} -> {self.name}"


def imports_in(file: str, text: str) -> Iterator[Import]:
    tree = ast.parse(text)
    inside = {
        id(node) for each in ast.walk(tree) if isinstance(each, ast.FunctionDef) for node in ast.walk(each)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file} imports relatively"
            names = [node.module or ""]
            if (HOME / (node.module or "").replace(".", "/")).is_dir():
                names = [f"{node.module}.{alias.name}" for alias in node.names]
        else:
            continue
        yield from (Import(file, name, id(node) in inside) for name in names)


@cache
def all_imports() -> list[Import]:
    files = [path for path in ROOT.rglob("*.py") if path.parent != ROOT or path.stem in FLOORS]
    assert len(files) > 30
    return [
        each
        for path in files
        for each in imports_in(path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8"))
    ]


def floor(module: str) -> int:
    return FLOORS.index(module.split(".")[1])


def goes_up(each: Import) -> bool:
    own = FLOORS.index(each.file.split("/")[0].removesuffix(".py"))
    return each.name.startswith("print3d.") and each.name.split(".")[1] in FLOORS and floor(each.name) > own


def strays(each: Import) -> bool:
    return not any(each.file.startswith(room) for room in ROOMS_OF.get(each.library, ("",)))


def weighs_geometry_down(each: Import) -> bool:
    return each.file.startswith("geometry/") and each.library not in GEOMETRY_NEEDS


def loads_the_cad_kernel(each: Import) -> bool:
    is_cad_room = f"print3d/{each.file}".removesuffix(".py").replace("/", ".") in CAD_ROOMS
    return each.name.startswith(CAD_ROOMS) and not each.is_lazy and not is_cad_room


def borrows_from_a_neighbour(each: Import) -> bool:
    """Whether a check imports a check, or a kind a kind; whoever lists them all stands apart."""
    room, own, *_ = each.file.removesuffix(".py").split("/") + [""]
    if room not in COMMON or own in COMMON[room] or not each.name.startswith(f"print3d.{room}."):
        return False
    return each.name.split(".")[2] not in (*COMMON[room], own)


def is_undeclared(each: Import) -> bool:
    package = PACKAGE_OF.get(each.library, each.library).lower()
    return each.library not in {"print3d", *sys.stdlib_module_names} and package not in declared()


@cache
def declared() -> set[str]:
    """Return the names of the packages that pyproject.toml asks for."""
    project = tomllib.loads((HOME / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    needs = [*project["dependencies"], *project["optional-dependencies"]["cluster"]]
    return {re.split(r"[^A-Za-z0-9_-]", need)[0].lower() for need in needs}


RULES = [goes_up, strays, weighs_geometry_down, loads_the_cad_kernel, borrows_from_a_neighbour, is_undeclared]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_no_import_breaks_a_rule(rule) -> None:
    assert not [str(each) for each in all_imports() if rule(each)]


def circles(imports: Iterable[Import]) -> set[str]:
    """Return the modules that lie on circles of imports, or on the way from one circle to another; lazy imports count."""
    ways = {(module_of(each.file), each.name) for each in imports}
    while True:
        goes, comes = {start for start, _ in ways}, {stop for _, stop in ways}
        left = {(start, stop) for start, stop in ways if start in comes and stop in goes}
        if left == ways:
            return {start for start, _ in ways}
        ways = left


def module_of(file: str) -> str:
    return f"print3d/{file}".removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def test_no_circles() -> None:
    assert circles(all_imports()) == set()


def test_a_planted_circle_is_found() -> None:
    back = "def f():\n    if TYPE_CHECKING:\n        from print3d.training.build import Model"
    planted = [*all_imports(), *imports_in("training/measure.py", back)]
    assert {"print3d.training.build", "print3d.training.measure"} <= circles(planted)
    longer = [*all_imports(), *imports_in("geometry/frames.py", "from print3d.limb import finger")]
    assert {"print3d.geometry.frames", "print3d.limb.finger"} <= circles(longer)


PLANTED = [
    ("geometry/frames.py", "from print3d.limb.finger import FingerLimb", "goes_up"),
    ("geometry/frames.py", "from print3d import limb", "goes_up"),
    ("limb/finger.py", "import print3d.shell.mesh", "goes_up"),
    ("output/mesh/stl.py", "def f():\n    from print3d.flow import write", "goes_up"),
    ("studies/compare.py", "from print3d.output.page.html import tag", "goes_up"),
    ("limb/finger.py", "from OCP.gp import gp_Pnt", "strays"),
    ("checks/wall.py", "def f():\n    import cadquery as cq", "strays"),
    ("shell/mesh.py", "import manifold3d", "strays"),
    ("training/build.py", "from print3d.training.solid import build_model_solid", "loads_the_cad_kernel"),
    ("output/mesh/stl.py", "from rich.table import Table", "strays"),
    ("shell/mesh.py", "import trimesh", "is_undeclared"),
    ("geometry/cross_section.py", "import pandas", "weighs_geometry_down"),
    ("output/files.py", "from print3d.output.mesh import step", "loads_the_cad_kernel"),
    ("kinds/mallet/kind.py", "from print3d.shell.solid import build_solid", "loads_the_cad_kernel"),
    ("checks/wall.py", "from print3d.checks.gap import check_gap", "borrows_from_a_neighbour"),
    ("checks/wall.py", "from print3d.checks import gap", "borrows_from_a_neighbour"),
    ("kinds/mallet/kind.py", "from print3d.kinds.pip_extension.kind import KIND", "borrows_from_a_neighbour"),
    ("output/mesh/stl.py", "import pandas as pd", "is_undeclared"),
]


@pytest.mark.parametrize(("file", "text", "rule"), PLANTED)
def test_a_planted_import_is_found(file: str, text: str, rule: str) -> None:
    (planted,) = imports_in(file, text)
    assert rule in [each.__name__ for each in RULES if each(planted)]


@pytest.mark.parametrize(
    ("file", "text"),
    [
        ("limb/finger.py", "from print3d.geometry.mesh import Mesh"),
        ("output/files.py", "def f():\n    from print3d.output.mesh.step import write_step"),
        ("output/mesh/step.py", "from print3d.shell.solid import build_solid"),
        ("checks/wall.py", "from print3d.checks.finding import Finding"),
        ("checks/suite.py", "from print3d.checks.wall import check_wall"),
        ("kinds/mallet/kind.py", "from print3d.kinds.mallet.outline import trim"),
        ("geometry/cross_section.py", "import math"),
    ],
)
def test_a_sound_import_is_left_alone(file: str, text: str) -> None:
    (sound,) = imports_in(file, text)
    assert not [each.__name__ for each in RULES if each(sound)]
