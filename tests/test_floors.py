"""The house's floors: a room imports only from its own floor or a lower one, and heavy libraries stay where they belong."""

import ast
from pathlib import Path

ROOT = Path(__file__).parents[1] / "print3d"
FLOORS = [
    "errors", "geometry", "inputs", "limb", "shell", "orthoses",
    "checks", "models", "exports", "guidance", "studies", "flow", "cli",
]  # fmt: skip
HOMES = {"cadquery": {"shell/solid.py", "exports/step.py"}, "OCP": {"shell/solid.py", "exports/step.py"}}


def imports(path: Path) -> list[str]:
    names = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} imports relatively"
            names.append(node.module or "")
    return names


def floor_of(module: str) -> int:
    return FLOORS.index(module.split(".")[1])


def modules() -> list[Path]:
    return [path for path in ROOT.rglob("*.py") if path.parent != ROOT or path.stem in FLOORS]


def test_no_room_imports_from_a_higher_floor() -> None:
    upward = []
    for path in modules():
        own = FLOORS.index(path.relative_to(ROOT).parts[0].removesuffix(".py"))
        upward += [
            f"{path.relative_to(ROOT)} -> {name}"
            for name in imports(path)
            if name.startswith("print3d.") and floor_of(name) > own
        ]
    assert not upward


def test_cad_kernel_stays_in_its_rooms() -> None:
    strays = [
        f"{path.relative_to(ROOT)} -> {name}"
        for path in modules()
        for name in imports(path)
        if path.relative_to(ROOT).as_posix() not in HOMES.get(name.split(".")[0], {path.relative_to(ROOT).as_posix()})
    ]
    assert not strays


def test_geometry_needs_only_arrays_and_flat_shapes() -> None:
    allowed = {"numpy", "scipy", "shapely", "print3d", "collections", "dataclasses", "functools", "math", "typing", "enum"}
    strays = {
        f"{path.name} -> {name}"
        for path in (ROOT / "geometry").glob("*.py")
        for name in imports(path)
        if name.split(".")[0] not in allowed
    }
    assert not strays


def test_no_check_imports_another_check_and_no_kind_another_kind() -> None:
    shared = {
        "checks": {"finding", "limits"},
        "orthoses": {"built", "kind", "finger_shell", "limb_of_case"},
    }
    registrars = {"checks": "suite.py", "orthoses": "registry.py"}
    strays = [
        f"{path.relative_to(ROOT)} -> {name}"
        for room, common in shared.items()
        for path in (ROOT / room).glob("*.py")
        if path.name != registrars[room]
        for name in imports(path)
        if name.startswith(f"print3d.{room}.") and name.split(".")[2] not in common
    ]
    assert not strays
