"""A trough's mouth: measured against known shapes, and planted faults found."""

from dataclasses import replace

import numpy as np
import pytest

from print3d.checks.limits import limits_of_case
from print3d.checks.trough import Mouth, check_trough, measure_mouths, mouth_between
from print3d.forms.orthosis import Orthosis
from print3d.geometry.mesh import Mesh
from print3d.inputs.case import Case
from print3d.inputs.case_file import case_from_data
from print3d.inputs.toml_file import read_toml
from print3d.kinds.dorsal_blocking.kind import KIND
from print3d.kinds.registry import KINDS
from tests.conftest import CASES

FILE = CASES / "dorsal_blocking_short.toml"


@pytest.fixture(scope="module")
def case() -> Case:
    return case_from_data(read_toml(FILE), {name: kind.options for name, kind in KINDS.items()}, FILE)


@pytest.fixture(scope="module")
def orthosis(case: Case) -> Orthosis:
    return KIND.build(case)


def closed_up(orthosis: Orthosis, share: float) -> Orthosis:
    """The same with everything drawn towards the middle plane, lips included."""
    part = orthosis.parts[0]
    vertices = part.shell.mesh.vertices * [1.0, share, 1.0]
    mesh = replace(part.shell, mesh=Mesh(vertices, part.shell.mesh.faces))
    return replace(orthosis, parts=(replace(part, shell=mesh),))


def section(half_angle_deg: float) -> Mouth:
    """A round limb of radius 30 in an arc of radius 31 whose lips stand at a half angle from the back."""
    angle = np.linspace(-np.pi, np.pi, 721)
    skin = 30.0 * np.column_stack([np.zeros_like(angle), np.sin(angle), np.cos(angle)])
    lips = [
        31.0 * np.array([[0.0, side * np.sin(t), np.cos(t)] for t in [np.radians(half_angle_deg)]])
        for side in (-1.0, 1.0)
    ]
    return mouth_between((lips[0], lips[1]), skin)


@pytest.mark.parametrize("half_angle_deg", [60.0, 90.0, 120.0])
def test_a_round_limb_in_an_arc(half_angle_deg: float) -> None:
    """Lips 2 R sin a apart; what has to pass is the chord at their height above the middle, the whole diameter below it."""
    found, t = section(half_angle_deg), np.radians(half_angle_deg)
    lip_height = 31.0 * np.cos(t)
    assert found.found_mm == pytest.approx(62.0 * np.sin(t))
    chord = 2.0 * np.sqrt(30.0**2 - max(lip_height, 0.0) ** 2)
    assert found.needed_mm == pytest.approx(chord, abs=0.3)
    assert found.half_angle_rad == pytest.approx(t, abs=0.06)  # the back of the limb lies 1 mm below the arc
    missing = max(chord - found.found_mm, 0.0)
    assert (found.strain(3.0, 0.0) > 0.0) == (missing > 0.05)


def test_a_trough_is_laid_on_without_force(case: Case, orthosis: Orthosis) -> None:
    (found,) = check_trough(orthosis, limits_of_case(case))
    assert found.holds
    assert found.unit == "mm"
    clearance = case.orthosis.clearance_mm
    assert all(mouth.found_mm > mouth.needed_mm for mouth in measure_mouths(orthosis.parts[0], orthosis.limb))
    assert found.measured - (found.limit + 1.0) == pytest.approx(2.0 * clearance, abs=0.5)


def test_a_mouth_too_narrow_for_the_hand_is_found(case: Case, orthosis: Orthosis) -> None:
    """Little is sprung open at a strain that the material bears; much is not."""
    limits = limits_of_case(case)
    (little,) = check_trough(closed_up(orthosis, 0.94), limits)
    (much,) = check_trough(closed_up(orthosis, 0.75), limits)
    assert (little.unit, little.holds) == ("%", True)
    assert (much.unit, much.holds) == ("%", False)
    assert little.measured < much.measured


def test_a_shell_without_lips_is_found(case: Case, orthosis: Orthosis) -> None:
    part = orthosis.parts[0]
    pattern = part.definition.pattern
    loop = replace(pattern.boundary[0], points=pattern.boundary[0].points + [0.0, 500.0])
    definition = replace(part.definition, pattern=replace(pattern, boundary=(loop,)))
    (found,) = check_trough(
        replace(orthosis, parts=(replace(part, definition=definition),)), limits_of_case(case)
    )
    assert not found.holds
