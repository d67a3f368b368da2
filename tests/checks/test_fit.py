"""How surely it fits: the share falls with what is not known, names what would help, and agrees with the study's meshes."""

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from print3d.built import shape_case
from print3d.checks.finding import Finding
from print3d.checks.fit import LEAST_PERCENT, WATCHED_PERCENT, applies_to, check_fit
from print3d.checks.limits import CheckLimits, limits_of_case
from print3d.forms.orthosis import Orthosis
from print3d.geometry.nearest import skin_surface
from print3d.inputs.case import Case
from print3d.inputs.case_file import case_from_data
from print3d.inputs.toml_file import read_toml
from print3d.kinds.registry import KINDS
from print3d.limb.finger import FingerLimb
from print3d.limb.skin_gap import segment_gap, skin_gap
from print3d.mechanics.contact import segment_surface
from tests.conftest import CASES, in_ci, worked_cases
from tests.shaped import shaped

OPTIONS = {name: kind.options for name, kind in KINDS.items()}
ONE_GIRTH = ("pip_girth_mm",)


def case_with(name: str, keep: tuple[str, ...] | None = None, **orthosis: Any) -> Case:
    """Return a worked case with only some of its finger's sizes, and other options."""
    data = read_toml(CASES / f"{name}.toml")
    finger = data["case"]["finger"]
    if keep is not None:
        data["measured"][finger] = {
            key: value
            for key, value in data["measured"][finger].items()
            if key in keep or key.endswith("_deg")
        }
    data["orthosis"] |= orthosis
    return case_from_data(data, OPTIONS, CASES / f"{name}.toml")


def certainty(case: Case, **other: Any) -> Finding:
    limits: CheckLimits = replace(limits_of_case(case), **other)
    (found,) = check_fit(orthosis_of(case), limits)
    return found


@cache
def orthosis_of(case: Case) -> Orthosis:
    return shape_case(case).modelled


@pytest.mark.slow(in_ci=True)
@pytest.mark.parametrize("path", worked_cases())
def test_the_numbers_of_a_worked_case_carry_it(path) -> None:
    built = shaped(path.stem)
    limits = limits_of_case(built.case)
    if not applies_to(built.modelled, limits):
        assert built.modelled.limb.tube is None
        return
    (found,) = check_fit(built.modelled, limits)
    assert found.verdict != "fails"
    assert (found.limit, found.watch) == (LEAST_PERCENT, WATCHED_PERCENT) == (70.0, 85.0)


@pytest.mark.parametrize("name", ["pip_extension", in_ci("mallet")])
def test_one_girth_does_not_carry_an_orthosis(name: str) -> None:
    bare, whole = certainty(case_with(name, ONE_GIRTH)), certainty(case_with(name))
    assert bare.verdict != "holds"
    assert bare.measured < whole.measured - 10.0


def test_what_would_help_most_is_named_and_helps() -> None:
    found = certainty(case_with("pip_extension", ONE_GIRTH))
    said = found.method("en")
    assert "it would help most to measure: " in said
    assert "am meisten hülfe, zu messen: " in found.method("de")
    promised = float(said.rsplit("then ", 1)[1].split(" %")[0])
    assert promised > found.measured + 3.0


def test_more_that_is_not_known_is_never_surer() -> None:
    case = case_with("pip_extension")
    spreads = limits_of_case(case).spreads
    shares = [
        certainty(case, spreads=replace(spreads, girth_mm=tape, swelling_mm=tape)).measured
        for tape in (0.1, 1.0, 3.0, 6.0)
    ]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 95.0
    assert shares[-1] < 60.0


def test_a_planted_fault_is_seen() -> None:
    """A gutter that is planned snug presses on a finger a little larger than the tape said."""
    assert certainty(case_with("pip_extension", clearance_mm=0.2)).measured < LEAST_PERCENT


def test_the_same_case_gives_the_same_share() -> None:
    case = case_with("pip_extension")
    assert certainty(case).measured == certainty(case).measured


def test_a_hand_is_not_asked() -> None:
    case = case_with("relative_motion_extension")
    assert not applies_to(shaped("relative_motion_extension").modelled, limits_of_case(case))


@pytest.mark.parametrize("name", ["figure_of_eight", in_ci("mallet"), in_ci("pip_extension_series")])
def test_the_formula_of_the_skin_is_the_mesh(name: str) -> None:
    limb = shaped(name).modelled.limb
    assert isinstance(limb, FingerLimb)
    for part in shaped(name).modelled.parts:
        points = part.shell.mesh.vertices[part.skin_vertices][::5]
        assert np.abs(skin_gap(limb, points) - skin_surface(limb).signed(points)).max() < 0.03
    for segment in ("proximal", "middle"):
        surface = segment_surface(limb, segment)
        points = surface.mesh.vertices[::7] * [1.0, 1.03, 1.03]
        off = np.abs(segment_gap(limb, segment, points) - surface.signed(points))
        assert np.percentile(off, 90) < 0.05
