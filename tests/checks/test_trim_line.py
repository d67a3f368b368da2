"""Bends of trim lines: closed forms, a planted notch is found, and on hands a planted corner is; all kinds hold as they are."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from print3d.checks.limits import limits_of_case
from print3d.checks.trim_line import check_trim_line, measure_trim_radius
from print3d.forms.orthosis import Part
from print3d.geometry.surface_bends import radii_in_surface
from print3d.kinds.registry import KINDS
from print3d.shell.mesh import build_mesh
from tests.checks.test_printability import part_of
from tests.shell import shapes

MakeCase = Callable[..., Any]


def rolled(flat: np.ndarray, radius: float) -> tuple[np.ndarray, np.ndarray]:
    """Places (n, 2) of a plane rolled up, with the surface's normals there."""
    angle = flat[:, 1] / radius
    out = np.column_stack([np.zeros(len(flat)), np.sin(angle), np.cos(angle)])
    return np.column_stack([flat[:, 0], np.zeros((len(flat), 2))]) + radius * out, out


@pytest.mark.parametrize("roll", [1e4, 9.0])
@pytest.mark.parametrize("radius", [3.0, 6.0, 30.0])
def test_a_circle_reads_its_radius_however_its_sheet_is_rolled(radius: float, roll: float) -> None:
    """Rolling a sheet leaves lines in it as straight or bent as they were (Gauss)."""
    turn = np.linspace(0.0, 2.0 * np.pi, 900, endpoint=False)
    radii, _ = radii_in_surface(*rolled(radius * np.column_stack([np.cos(turn), np.sin(turn)]), roll), 2.0)
    assert radii == pytest.approx(radius, rel=0.04)


def test_the_ends_of_a_half_tube_are_straight_and_its_corners_are_not() -> None:
    part = part_of(shapes.gutter())
    radius, where = measure_trim_radius(part)
    assert radius == pytest.approx(shapes.CORNER, rel=0.2)
    assert where is not None
    assert min(abs(where[0]), abs(where[0] - shapes.LENGTH)) < shapes.CORNER


def notched(part: Part, along: float, depth: float, half_width: float) -> Part:
    """The part with a notch planted in its outline, on the radial side at a place along the pattern."""
    (outline,) = part.definition.pattern.boundary
    at = outline.points
    here = (at[:, 1] > 0.0) & (np.abs(at[:, 0] - along) < half_width)
    deep = depth * np.where(
        here, np.cos(np.pi / 2 * np.clip((at[:, 0] - along) / half_width, -1, 1)) ** 2, 0.0
    )
    moved = replace(outline, points=at - np.column_stack([np.zeros(len(at)), deep]))
    definition = replace(
        part.definition, pattern=replace(part.definition.pattern, boundary=(moved,), holes=())
    )
    mesh = build_mesh(definition)
    return replace(part, definition=definition, shell=mesh, skin_vertices=mesh.inner_vertices)


def test_a_notch_in_an_edge_is_found_where_it_is(make_case: MakeCase) -> None:
    case = make_case({"kind": "pip_extension", "marking": {"style": "none"}, "straps": {"style": "none"}})
    orthosis = KINDS["pip_extension"].build(case)
    (sound,) = check_trim_line(orthosis, limits_of_case(case))
    assert sound.holds
    (part,) = orthosis.parts
    middle = float(part.definition.pattern.boundary[0].points[:, 0].mean())
    planted = replace(orthosis, parts=(notched(part, middle, 1.5, 2.0),))
    (found,) = check_trim_line(planted, limits_of_case(case))
    assert not found.holds
    assert found.where is not None
    walls = planted.parts[0].shell.mesh.vertices[planted.parts[0].shell.rims[0]].mean(axis=0)
    at_notch = walls[
        np.argmin(np.abs(planted.parts[0].definition.pattern.boundary[0].points - [middle, 0.0])[:, 0])
    ]
    assert abs(found.where[0] - at_notch[0]) < 4.0


def test_what_a_finger_may_have_a_hand_may_not(make_case: MakeCase) -> None:
    """The same shell, carried by the hand."""
    case = make_case({"kind": "pip_extension"})
    orthosis, limits = KINDS["pip_extension"].build(case), limits_of_case(case)
    on_hand = check_trim_line(replace(orthosis, carrier="hand"), limits)
    assert [each.holds for each in check_trim_line(orthosis, limits)] == [True]
    assert [each.holds for each in on_hand] == [False]
