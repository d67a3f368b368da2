"""Every number of the program that a verdict, an angle or a word to a therapist hangs on, by name."""

import importlib
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import BaseModel

import print3d
from print3d.checks.finding import Limit
from print3d.checks.limits import CheckLimits, limits_of_case, skin_limits
from print3d.inputs.case import Case
from print3d.inputs.case_file import read_case
from print3d.kinds.registry import KINDS
from print3d.language.message import Message
from tests.conftest import CASES

ROOT = Path(print3d.__file__).parent
MODULES = (
    *(f"checks.{path.stem}" for path in sorted((ROOT / "checks").glob("[a-z]*.py"))),
    *(f"mechanics.{path.stem}" for path in sorted((ROOT / "mechanics").glob("[a-z]*.py"))),
    "forms.forearm_options", "inputs.materials", "inputs.options", "inputs.rules", "limb.estimates", "limb.fellows",
    "limb.finger_sections", "limb.uncertainty", "shell.definition", "shell.drape", "studies.steps",
)  # fmt: skip
"""Their constants are pinned, all of them."""
TABLES = (
    "forms/data/protocols.toml", "guidance/series.toml", "guidance/signs.toml", "guidance/suggestions.toml",
    "inputs/data/materials.toml", "inputs/data/printers.toml", "limb/data/children.toml", "limb/data/fingers.toml",
    "limb/data/forearm.toml",
)  # fmt: skip
"""Their numbers are pinned, all of them."""
CASE_OF = {"relative_motion": "relative_motion_extension"}
"""Kind -> its worked case, where that is not called as the kind is."""
NOT_BODILY = ("ORDER", "CHECKS")
"""The places of checks among the findings are no figures."""


def numbers() -> dict[str, float]:
    """Return name -> number of everything that is pinned."""
    found: dict[str, float] = {}
    for name in MODULES:
        found |= constants_of(name)
    for name in TABLES:
        table = tomllib.loads((ROOT / name).read_text(encoding="utf-8"))
        found |= {f"{Path(name).stem}: {key}": value for key, value in flat(table)}
    found |= {f"limits: {key}": value for key, value in limits_of_checks()}
    for hours in (1.0, 2.0, 4.0, 8.0, 8.5, 20.0, 24.0):
        found |= {f"skin limits: {hours:g} h {key}": value for key, value in flat(skin_limits(hours))}
    for kind in KINDS:
        case = read_case(
            CASES / f"{CASE_OF.get(kind, kind)}.toml", {name: each.options for name, each in KINDS.items()}
        )
        found |= {f"limits of {kind}: {key}": value for key, value in limits_of(case)}
    for kind, each in KINDS.items():
        found |= {f"{kind}: {key}": value for key, value in defaults(each.options)}
    return found


def constants_of(name: str) -> dict[str, float]:
    """Return the constants of a module that it does not import."""
    module = importlib.import_module(f"print3d.{name}")
    own = {
        line.split("=")[0].split(":")[0].strip()
        for line in Path(str(module.__file__)).read_text(encoding="utf-8").splitlines()
        if line[:1].isupper() and "=" in line
    }
    kept = {
        key: getattr(module, key) for key in sorted(own) if hasattr(module, key) and key not in NOT_BODILY
    }
    return {f"{name}: {key}": value for key, value in flat(kept)}


def limits_of_checks() -> Iterator[tuple[str, float]]:
    """Yield the limits that stand in the table of all limits, whatever the case."""
    for field in fields(CheckLimits):
        if field.default is not MISSING:
            yield from flat(field.default, field.name)


def limits_of(case: Case) -> Iterator[tuple[str, float]]:
    """Yield what a worked case is held against, besides the limits of all cases."""
    limits = limits_of_case(case)
    for field in fields(CheckLimits):
        value = getattr(limits, field.name)
        if field.default is MISSING and not isinstance(value, BaseModel):
            yield from flat(value, field.name)


def defaults(options: type[BaseModel], where: str = "") -> Iterator[tuple[str, float]]:
    """Yield the numbers that a kind takes where a case says nothing."""
    for key, field in options.model_fields.items():
        value = field.get_default(call_default_factory=True)
        if isinstance(value, BaseModel):
            yield from flat(value.model_dump(), f"{where}{key}")
        else:
            yield from flat(value, f"{where}{key}")


def flat(value: Any, where: str = "") -> Iterator[tuple[str, float]]:
    """Yield the numbers in tables, lists, limits and arrays, each with its path."""
    if is_dataclass(value) and not isinstance(value, type | Limit | Message):
        value = {field.name: getattr(value, field.name) for field in fields(value)}
    if isinstance(value, Limit):
        value = value.value
    if isinstance(value, Mapping):
        for key, each in value.items():
            name = "-".join(map(str, key)) if isinstance(key, tuple) else str(key)
            yield from flat(each, f"{where}.{name}" if where else name)
    elif isinstance(value, list | tuple | np.ndarray):
        for number, each in enumerate(value):
            yield from flat(each, f"{where}[{number}]")
    elif isinstance(value, int | float | np.number) and not isinstance(value, bool):
        yield where, float(value)
