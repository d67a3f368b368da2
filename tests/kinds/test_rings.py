"""Rings and blocks do mechanically what they are for; planted faults are found by the check meant for them."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from print3d.checks.limits import limits_of_case
from print3d.checks.motion import check_motion
from print3d.checks.stiffness import check_stiffness
from print3d.checks.stops import check_stops
from print3d.checks.suite import run_suite
from print3d.errors import InputError, ShapingError
from print3d.forms.fingertip_gutter import ProximalEnd, mallet_plan
from print3d.forms.gutter import build_part
from print3d.forms.orthosis import FreeArc, Orthosis, Part, Stop
from print3d.geometry.mesh import Mesh
from print3d.inputs.case import Case
from print3d.inputs.case_file import case_from_data
from print3d.kinds.figure_of_eight import kind as figure_of_eight
from print3d.kinds.figure_of_eight.kind import MOST_WALL_MM, stopping_band_mm, stopping_wall_mm
from print3d.kinds.mallet_with_pip_block import kind as mallet_with_pip_block
from print3d.limb.joint_id import JointId
from print3d.limb.unrolled import UnrolledJoint
from tests.conftest import in_ci, is_closed
from tests.taped import taped

MIDDLE_PIP = JointId("middle", "pip")

MakeCase = Callable[..., Case]
RING = {"kind": "figure_of_eight"}
BLOCK = {"kind": "mallet_with_pip_block"}


def failing(orthosis: Orthosis, case: Case) -> set[str]:
    """Return the checks that fail; how surely it fits other fingers follows from them, and has tests of its own."""
    failed = {finding.check for finding in run_suite(orthosis, limits_of_case(case)) if not finding.holds}
    return failed - {"fit"}


def moved(part: Part, shift_mm: tuple[float, float, float]) -> Part:
    mesh = part.shell.mesh
    return replace(part, shell=replace(part.shell, mesh=Mesh(mesh.vertices + np.array(shift_mm), mesh.faces)))


# --- what they are for ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("blocks", ["extension", "flexion"])
@pytest.mark.parametrize("angle", [0.0, in_ci(15.0), in_ci(30.0)])
def test_a_ring_stops_the_joint_where_it_is_asked_to(make_case: MakeCase, blocks: str, angle: float) -> None:
    """Plane geometry chose the shape, a loose ring on the mesh is measured: two ways, one angle within 2 degrees."""
    spells = {"wear_hours_at_once": 1.5}  # a PIP that drops presses with more than skin bears for two hours
    case = make_case(RING | {"blocks": blocks, "pip_flexion_deg": angle} | spells)
    orthosis = figure_of_eight.KIND.build(case)
    findings = list(run_suite(orthosis, limits_of_case(case)))
    assert all(finding.holds for finding in findings)
    assert not [finding for finding in findings if finding.key == "motion.between"]
    assert is_closed(orthosis.parts[0].shell.mesh)


ADULTS = {
    "small": ("woman", 160.0, "little"),
    "mean": ("man", 193.0, "middle"),
    "large": ("man", 218.0, "middle"),
}
"""Hand lengths of the smallest and largest adults in a hundred (ANSUR II, 1st and 99th percentile), and of the mean man."""


def adult(sex: str, hand_length_mm: float, finger: str, **options: object) -> Case:
    data = {
        "case": {"code": "PY-900", "side": "right", "finger": finger},
        "measured": taped({"sex": sex, "hand_length_mm": hand_length_mm}),
        "orthosis": {**RING, **options},
        "print": {"material": "petg", "printer": "extrusion"},
    }
    return case_from_data(data, {"figure_of_eight": figure_of_eight.FigureOfEightOptions}, Path("made.toml"))


@pytest.mark.slow(in_ci=True)
@pytest.mark.parametrize("size", ["small", "mean", "large"])
@pytest.mark.parametrize("blocks", ["extension", "flexion"])
def test_a_ring_with_its_wall_left_out_holds_on_every_adult(size: str, blocks: str) -> None:
    spells = {"wear_hours_at_once": 1.5} if blocks == "flexion" else {}
    case = adult(*ADULTS[size], blocks=blocks, **spells)  # a PIP that drops presses all the time
    assert not failing(figure_of_eight.KIND.build(case), case)


@pytest.mark.slow
@pytest.mark.parametrize("finger", ["index", "middle", "ring", "little"])
@pytest.mark.parametrize("angle", [0.0, 25.0, 45.0])
@pytest.mark.parametrize(
    ("sex", "hand_length_mm"), [("woman", 160.0), ("woman", 181.0), ("man", 193.0), ("man", 218.0)]
)
def test_the_wall_is_enough_for_every_finger_and_angle(
    sex: str, hand_length_mm: float, finger: str, angle: float
) -> None:
    case = adult(sex, hand_length_mm, finger, blocks="flexion", pip_flexion_deg=angle)
    assert all(
        finding.holds for finding in check_stiffness(figure_of_eight.KIND.build(case), limits_of_case(case))
    )


def test_the_wall_against_flexion_is_not_thicker_than_needed() -> None:
    """By finite elements: 0.5 mm less does not hold on a large finger. A wall that is asked for stays; a stronger material needs less."""
    case = adult(*ADULTS["large"], blocks="flexion")
    wall = case.orthosis.wall_mm
    thinner = adult(*ADULTS["large"], blocks="flexion", wall_mm=wall - 0.5)
    assert thinner.orthosis.wall_mm == wall - 0.5
    (peak,) = (
        finding
        for finding in check_stiffness(figure_of_eight.KIND.build(thinner), limits_of_case(thinner))
        if finding.key == "stiffness.peak" and ("load", "in_effort") in finding.about.of
    )
    assert not peak.holds
    assert adult(*ADULTS["large"], blocks="extension").orthosis.wall_mm < wall
    assert adult(*ADULTS["mean"], blocks="extension").orthosis.wall_mm == 2.4
    assert stopping_wall_mm("flexion", 22.0, 5.0, 30.0) < stopping_wall_mm("flexion", 22.0, 5.0, 18.0)


def test_a_wider_band_stands_what_the_thickest_wall_does_not() -> None:
    case = adult(*ADULTS["large"], blocks="flexion")
    assert case.orthosis.wall_mm == MOST_WALL_MM < stopping_wall_mm("flexion", 22.0, 5.0, 18.0)
    assert case.orthosis.band_width_mm == stopping_band_mm("flexion", 22.008, MOST_WALL_MM, 18.0) > 5.0
    assert stopping_wall_mm("flexion", 22.0, case.orthosis.band_width_mm, 18.0) <= MOST_WALL_MM
    asked = adult(*ADULTS["large"], blocks="flexion", band_width_mm=5.0)
    assert asked.orthosis.band_width_mm == 5.0


@pytest.mark.slow(in_ci=True)
def test_a_softer_skin_lets_the_joint_go_further(make_case: MakeCase) -> None:
    orthosis = figure_of_eight.KIND.build(make_case(RING))
    measured = []
    for compression in (0.0, 0.2, 0.4, 0.8):
        limits = limits_of_case(make_case(RING | {"soft_tissue_compression": {"stop_mm": compression}}))
        (finding,) = check_stops(orthosis, limits)
        measured.append(finding.measured)
    assert measured == sorted(measured, reverse=True)
    assert measured[0] - measured[-1] > 5.0


@pytest.mark.slow(in_ci=True)
def test_a_longer_lever_stops_more_firmly(make_case: MakeCase) -> None:
    """The same squeeze lets the joint turn by less on longer levers: roughly in proportion to 1 / lever."""
    given = []
    for lever in (7.0, 11.0):
        case = make_case(RING | {"lever_mm": lever})
        soft = limits_of_case(make_case(RING | {"soft_tissue_compression": {"stop_mm": 0.8}}))
        orthosis = figure_of_eight.KIND.build(case)
        firm, yielding = (
            check_stops(orthosis, limits)[0].measured for limits in (limits_of_case(case), soft)
        )
        given.append(firm - yielding)
    assert given[0] / given[1] == pytest.approx(11.0 / 7.0, rel=0.25)


def test_a_loose_ring_finds_its_place_again_after_it_was_moved(make_case: MakeCase) -> None:
    """Shifted by 0.8 mm and measured, the ring stops the finger at the same angle: only its shape counts."""
    case = make_case(RING)
    orthosis = figure_of_eight.KIND.build(case)
    shifted = replace(orthosis, parts=(moved(orthosis.parts[0], (0.5, 0.0, -0.6)),))
    first, second = (check_stops(each, limits_of_case(case))[0].measured for each in (orthosis, shifted))
    assert second == pytest.approx(first, abs=0.6)


@pytest.mark.parametrize("pieces", [in_ci("one"), "two"])
@pytest.mark.parametrize("angle", [25.0, in_ci(30.0)])
def test_a_block_stops_the_pip_and_holds_the_dip(make_case: MakeCase, pieces: str, angle: float) -> None:
    case = make_case(
        BLOCK
        | {
            "pieces": pieces,
            "pip_flexion_deg": angle,
            "dip_hyperextension_deg": 4.0,
            "straps": {"style": "wrap"},
        }
    )
    assert not failing(mallet_with_pip_block.KIND.build(case), case)


def test_the_skin_about_a_joint_is_unrolled_at_true_length(make_case: MakeCase) -> None:
    """A millimetre along is a millimetre on the skin on every line, also inside the bend of a flexed PIP."""
    limb = figure_of_eight.KIND.build(make_case(RING | {"pip_flexion_deg": 30.0})).limb
    skin = UnrolledJoint(limb, 0.0, 16.0)
    girth = skin.reference_girth_mm
    along, around = np.meshgrid(np.linspace(-8, 8, 81), np.linspace(-girth / 2, girth / 2, 13), indexing="ij")
    points = skin.points(along.ravel(), around.ravel()).reshape(*along.shape, 3)
    steps = np.linalg.norm(np.diff(points, axis=0), axis=2)
    assert steps == pytest.approx(np.full(steps.shape, 0.2), abs=0.002)
    assert skin.along(limb.landmarks["pip"], 3.0) == 0.0


# --- planted faults ------------------------------------------------------------------------------------------


def test_a_stop_six_degrees_off(make_case: MakeCase) -> None:
    case = make_case(RING)
    orthosis = replace(figure_of_eight.KIND.build(case), stops=(Stop(MIDDLE_PIP, "extension", 16.0),))
    assert failing(orthosis, case) == {"stops"}


def test_a_hood_six_degrees_off(make_case: MakeCase) -> None:
    case = make_case(BLOCK)
    orthosis = replace(mallet_with_pip_block.KIND.build(case), stops=(Stop(MIDDLE_PIP, "extension", 24.0),))
    assert failing(orthosis, case) == {"stops"}


@pytest.mark.slow(in_ci=True)
def test_a_block_that_also_stops_flexion(make_case: MakeCase) -> None:
    """A sleeve where there should be a hood: the PIP does not extend, and does not flex either."""
    case = make_case(BLOCK | {"straps": {"style": "wrap"}})
    good = mallet_with_pip_block.KIND.build(case)
    start = good.limb.landmarks["pip"] - 12.0
    sleeve = build_part(mallet_plan(case, good.limb, "sleeve", ProximalEnd(start, start)))
    found = failing(replace(good, parts=(sleeve,)), case)
    assert "motion" in found


def test_a_ring_around_the_bent_finger_that_stops_flexion_too(make_case: MakeCase) -> None:
    """The reverse ring, asked to leave flexion free."""
    case = make_case(RING | {"blocks": "flexion", "pip_flexion_deg": 15.0, "wear_hours_at_once": 1.5})
    orthosis = replace(figure_of_eight.KIND.build(case), freed=(FreeArc(MIDDLE_PIP, 15.0, 100.0),))
    assert failing(orthosis, case) == {"motion"}


def test_two_pieces_that_collide(make_case: MakeCase) -> None:
    case = make_case(BLOCK | {"pieces": "two", "straps": {"style": "wrap"}})
    good = mallet_with_pip_block.KIND.build(case)
    ring, mallet = good.parts
    into_ring = -9.0 * good.limb.segment_transform("middle")[:3, 0]
    faulty = replace(good, parts=(ring, moved(mallet, tuple(into_ring))))
    (beside,) = [each for each in check_motion(faulty, limits_of_case(case)) if each.key == "motion.between"]
    assert not beside.holds
    (beside,) = [each for each in check_motion(good, limits_of_case(case)) if each.key == "motion.between"]
    assert beside.holds


# --- what cannot be built ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"lever_mm": 24.0}, r"orthosis.lever_mm = 24: rings 24.0 mm from the PIP do not fit"),
        ({"band_width_mm": 12.0, "lever_mm": 22.0}, r"6 to 1\d\.\d mm are possible with band_width_mm = 12"),
    ],
)
def test_rings_that_do_not_fit_are_refused_with_what_would(
    make_case: MakeCase, options: dict[str, Any], message: str
) -> None:
    with pytest.raises(ShapingError, match=message):
        figure_of_eight.KIND.build(make_case(RING | options))


def test_a_ring_takes_no_vents_straps_or_letters(make_case: MakeCase) -> None:
    with pytest.raises(InputError) as refusal:
        make_case(
            RING | {"vents": {"grid": "square"}, "straps": {"style": "wrap"}, "marking": {"style": "raised"}}
        )
    for key in ("vents.grid", "straps.style", "marking.style"):
        assert f"orthosis.{key}" in str(refusal.value)
