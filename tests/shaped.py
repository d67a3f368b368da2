"""Worked cases built for tests, and the same with other findings, parts or advice."""

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from functools import cache
from typing import Any

from print3d import flow
from print3d.built import Built, shape_case
from print3d.checks.finding import Finding
from print3d.forms.orthosis import Orthosis
from print3d.geometry.mesh import Mesh
from print3d.inputs.case import Case
from tests.conftest import CASES


@cache
def shaped(name: str) -> Built:
    """A worked case, not checked."""
    return shape_case(flow.read(CASES / f"{name}.toml"))


@cache
def checked(name: str) -> Built:
    """A worked case with its findings."""
    return flow.check(shaped(name))


def changed(built: Built, **changes: Any) -> Built:
    """The same with other fields; what would be worked out when asked for may be given too. Given advice stays."""
    own = {field.name for field in fields(Built)}
    other = replace(built, **{name: value for name, value in changes.items() if name in own})
    given = {"advice": vars(built)["advice"]} if "advice" in vars(built) else {}
    vars(other).update({**given, **{name: value for name, value in changes.items() if name not in own}})
    return other


def written_of(case: Case, findings: Sequence[Finding], meshes: Mapping[str, Mesh]) -> Built:
    """A case with findings and parts that were never modelled, for writers that look at no more."""
    nothing = Orthosis(case.orthosis.kind, shaped("mallet").modelled.limb, (), "middle", {}, ())
    return changed(Built(case, nothing, tuple(findings)), meshes=dict(meshes), plans=(), advice=())
