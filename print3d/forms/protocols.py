"""Regimens: named positions of a dorsal blocking orthosis, each with its source; a clinic's own file goes first."""

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Literal

from pydantic import Field

from print3d.inputs.materials import Mark
from print3d.inputs.problems import Problem, refusal
from print3d.inputs.table import Section
from print3d.inputs.toml_file import read_toml
from print3d.inputs.validation import validate
from print3d.language.message import message

SHIPPED = Path(__file__).parent / "data" / "protocols.toml"


class Protocol(Section):
    """One regimen."""

    title: str = Field(min_length=1, description="Name as printed on sheets")
    form: Literal["forearm", "hand"] = Field("forearm", description="Whether it reaches over the wrist")
    wrist_flexion_deg: float = Field(0.0, ge=0, le=60, description="Wrist flexion")
    wrist_extension_deg: float = Field(0.0, ge=0, le=60, description="Wrist extension")
    mcp_flexion_deg: float = Field(ge=0, le=90, description="MCP flexion of all fingers")
    ip_flexion_deg: float = Field(0.0, ge=0, le=30, description="PIP and DIP flexion of all fingers")
    weeks: str = Field("", description="How long it is worn")
    source: str = Field(min_length=3, description="Where it comes from")
    mark: Mark = Field(description="How well it is known")


def read_protocols(folder: Path | None) -> Mapping[str, Protocol]:
    """Return all regimens by name; those in `folder` replace shipped ones.

    Raises InputError with every problem of the first file that has any.
    """
    found = dict(_shipped())
    for path in sorted(folder.glob("*.toml")) if folder is not None else []:
        found.update(_protocols(path))
    return found


@cache
def _shipped() -> Mapping[str, Protocol]:
    return _protocols(SHIPPED)


def _protocols(path: Path) -> dict[str, Protocol]:
    found: dict[str, Protocol] = {}
    problems: list[Problem] = []
    for name, table in read_toml(path).items():
        if not isinstance(table, dict):
            problems.append(Problem(name, table, message("refusals.guidance.regimen_is_table")))
            continue
        result = validate(Protocol, table)
        problems += [each.at(name) for each in result.problems]
        if result.table is not None:
            found[name] = result.table
    if problems:
        raise refusal(path, problems)
    return found
