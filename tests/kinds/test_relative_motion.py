"""The yoke holds one MCP against its neighbours', frees every PIP and stays out of the webs; planted faults are found."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from print3d.checks.limits import limits_of_case
from print3d.checks.suite import run_suite
from print3d.errors import ShapingError
from print3d.forms.orthosis import AngleDifference, Orthosis
from print3d.geometry.frames import apply
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import Surface
from print3d.inputs.case import Case
from print3d.inputs.measured import FINGERS
from print3d.kinds.relative_motion import kind as relative_motion
from print3d.limb.finger import DEPTH_RATIO
from print3d.limb.four_fingers import FourFingers
from tests.conftest import in_ci, is_closed

MakeCase = Callable[..., Case]
YOKE = {"kind": "relative_motion"}
MAN = {"measured": {"sex": "man", "hand_length_mm": 193.0}}
LIFTED_INDEX = {"wall_mm": 3.0, "band_width_mm": 12.0}
"""What an index that two neighbours on one side hold up asks for: a wider pad against peaks, a thicker band against its effort."""


def yoke_case(make_case: MakeCase, finger: str = "middle", **options: object) -> Case:
    head = {"code": "PY-001", "side": "right", "finger": finger}
    return make_case(YOKE | options, case=head, **MAN)


def failing(orthosis: Orthosis, case: Case) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for finding in run_suite(orthosis, limits_of_case(case)):
        if not finding.holds:
            found.setdefault(finding.check, []).append(finding.said("en"))
    return found


@pytest.fixture(scope="module")
def case(make_case: MakeCase) -> Case:
    return yoke_case(make_case)


@pytest.fixture(scope="module")
def yoke(case: Case) -> Orthosis:
    return relative_motion.KIND.build(case)


# --- what it is for ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("finger", "injured", "fingers"),
    [
        ("index", "more_extended", "three"),
        in_ci("middle", "more_extended", "four"),
        in_ci("ring", "more_extended", "three"),
        in_ci("index", "more_flexed", "three"),
        in_ci("middle", "more_flexed", "three"),
        in_ci("little", "more_flexed", "three"),
    ],
)
def test_every_finger_can_be_the_injured_one(
    make_case: MakeCase, finger: str, injured: str, fingers: str
) -> None:
    wishes = LIFTED_INDEX if (finger, injured) == ("index", "more_extended") else {}
    case = yoke_case(make_case, finger, injured_finger=injured, fingers=fingers, **wishes)
    orthosis = relative_motion.KIND.build(case)
    assert is_closed(orthosis.parts[0].shell.mesh)
    assert not failing(orthosis, case)
    (difference,) = orthosis.differences
    assert len(difference.neighbours) == {"three": 2, "four": 3}[fingers]


@pytest.mark.parametrize(
    ("lever", "difference", "rise", "chord"),
    [
        (25, 15, 6.470, 6.526),
        (25, 20, 8.551, 8.682),
        (25, 25, 10.565, 10.822),
        (20, 20, 6.840, 6.946),
        (30, 20, 10.261, 10.419),
    ],
)
def test_offsets_are_those_of_plane_geometry(
    yoke: Orthosis, lever: float, difference: float, rise: float, chord: float
) -> None:
    """A place `lever` from the MCP axis moves by the chord 2 L sin(d / 2) and rises by L sin d (worked values, plane geometry)."""
    assert isinstance(yoke.limb, FourFingers)
    ray = yoke.limb.rays["middle"]
    places = []
    for flexion in (0.0, difference):
        turned = replace(ray, limb=ray.limb.posed(mcp_flexion_deg=flexion), spread_deg=0.0)
        places.append(apply(turned.hand_from_finger(), np.array([[lever, 0.0, 0.0]]))[0])
    assert np.linalg.norm(places[1] - places[0]) == pytest.approx(chord, abs=0.001)
    assert places[0][2] - places[1][2] == pytest.approx(rise, abs=0.001)


def test_the_band_rises_by_the_offset(yoke: Orthosis) -> None:
    """On the mesh: under the injured finger the band lies the rise of plane geometry higher than it would at the neighbours' flexion."""
    assert isinstance(yoke.limb, FourFingers)
    ray = yoke.limb.rays["middle"]
    part = yoke.parts[0]
    under = part.shell.mesh.vertices[part.skin_vertices]
    local = apply(np.linalg.inv(ray.hand_from_finger()), under)
    nearest = local[np.abs(local[:, 1]) < 1.0]
    nearest = nearest[nearest[:, 2] < 0.0]
    lever = float(nearest[:, 0].mean())
    built = 20.0 - ray.limb.pose.mcp_flexion_deg
    straight = replace(ray, limb=ray.limb.posed(mcp_flexion_deg=20.0))
    moved = apply(ray.hand_from_finger(), nearest) - apply(straight.hand_from_finger(), nearest)
    depth = float(nearest[:, 2].mean())
    chord = 2.0 * np.hypot(lever, depth) * np.sin(np.radians(built) / 2.0)
    assert np.linalg.norm(moved, axis=1).mean() == pytest.approx(chord, rel=0.02)


def test_fingers_stand_side_by_side_on_an_oblique_arched_line(yoke: Orthosis) -> None:
    """MCP centres as Buchholz, Armstrong and Goldstein 1992 have them: 0.447 ... 0.368 of hand length, ulnar ones more proximal."""
    assert isinstance(yoke.limb, FourFingers)
    centres = np.array([yoke.limb.rays[name].mcp_centre for name in FINGERS])
    assert centres[:, 0] / 193.0 == pytest.approx([0.447, 0.446, 0.409, 0.368], abs=1e-9)
    assert (np.diff(centres[:, 1]) < 0.0).all()
    assert centres[:, 2].argmax() == 1


def test_neighbouring_fingers_do_not_share_a_place(yoke: Orthosis) -> None:
    assert isinstance(yoke.limb, FourFingers)
    bodies = [
        Mesh(apply(ray.hand_from_finger(), ray.limb.skin_mesh().vertices), ray.limb.skin_mesh().faces)
        for ray in yoke.limb.rays.values()
    ]
    whole = yoke.limb.skin_mesh()
    assert is_closed(whole)
    assert whole.volume_mm3() == pytest.approx(sum(body.volume_mm3() for body in bodies), rel=1e-12)


@pytest.mark.slow
@pytest.mark.parametrize("finger", FINGERS)
@pytest.mark.parametrize("injured", ["more_extended", "more_flexed"])
@pytest.mark.parametrize("fingers", ["three", "four"])
@pytest.mark.parametrize("difference", [15.0, 25.0])
def test_every_yoke_of_a_measured_hand_holds(
    make_case: MakeCase, finger: str, injured: str, fingers: str, difference: float
) -> None:
    lengths = {"index": 25.0, "middle": 28.0, "ring": 25.0, "little": 20.0}
    measured = MAN["measured"] | {
        name: {"web_crease_to_pip_crease_mm": each} for name, each in lengths.items()
    }
    head = {"code": "PY-001", "side": "right", "finger": finger}
    options = {"injured_finger": injured, "fingers": fingers, "mcp_difference_deg": difference}
    case = make_case(YOKE | options, case=head, measured=measured)
    orthosis = relative_motion.KIND.build(case)
    assert is_closed(orthosis.parts[0].shell.mesh)
    found = failing(orthosis, case)
    for load_or_print in ("pressure", "stiffness", "printability"):
        found.pop(
            load_or_print, None
        )  # a border finger at 25 degrees asks for a thicker wall, and is told so
    assert not found


def least_radius_mm(orthosis: Orthosis) -> float:
    """Least radius of curvature along the band's middle."""
    definition = orthosis.parts[0].definition
    around = np.arange(1.0, definition.pattern.boundary[0].points[:, 1].max() - 1.0, 0.1)
    level = np.zeros(len(around))
    line = (definition.inner.points(level, around) + definition.outer.points(level, around)) / 2
    way = np.diff(line, axis=0)
    length = np.linalg.norm(way, axis=1)
    turn = np.linalg.norm(np.diff(way / length[:, None], axis=0), axis=1)
    return float((length[1:] / turn).min())


def test_the_band_has_no_kink(yoke: Orthosis) -> None:
    """It bends no more sharply than a little inside the finger's own roundness: far above its wall."""
    assert least_radius_mm(yoke) > 2.5 * yoke.parts[0].definition.wall_mm


def test_fingers_are_spread_no_further_than_need_be(case: Case, yoke: Orthosis) -> None:
    """Where the band passes between two fingers, it has its wall, its clearance on both sides and a little to slant in, no more."""
    assert isinstance(yoke.limb, FourFingers)
    part = yoke.parts[0]
    surface = Surface(yoke.limb.skin_mesh())
    tightest = surface.signed(part.shell.mesh.vertices).min()
    assert 0.0 <= tightest <= case.orthosis.clearance_mm + 1e-3
    spreads = [yoke.limb.rays[name].spread_deg for name in FINGERS]
    assert (np.diff(spreads) <= 1e-9).all()  # no finger crosses its neighbour
    assert spreads[0] == pytest.approx(-spreads[3], abs=1.0)  # shared between both sides of the hand


# --- planted faults ------------------------------------------------------------------------------------------


def test_ends_that_do_not_grip(case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(relative_motion, "HOOK_MM", 0.5)
    found = failing(relative_motion.KIND.build(case), case)
    assert sorted(found.pop("relative_motion")) == [
        "index: the band's end past the widest place",
        "ring: the band's end past the widest place",
    ]
    assert found == {}


def test_a_finger_beside_the_yoke_in_the_way_of_its_end(case: Case, yoke: Orthosis) -> None:
    """The little finger, which the yoke does not take, lies 3 degrees nearer to the ring finger than it was planned to."""
    assert isinstance(yoke.limb, FourFingers)
    nearer = yoke.limb.spread({"little": yoke.limb.rays["little"].spread_deg + 3.0})
    found = failing(replace(yoke, limb=nearer), case)
    assert "yoke: least gap of links, ends and edges to any finger" in found["relative_motion"]
    assert "gap" not in found  # what bears on the skin is where it was


def test_a_finger_that_is_too_thick_to_get_in(case: Case, yoke: Orthosis) -> None:
    """The ring finger's PIP is 3 mm broader on either side than the one that the yoke was made for."""
    assert isinstance(yoke.limb, FourFingers)
    ray = yoke.limb.rays["ring"]
    at_pip = list(DEPTH_RATIO).index("pip")
    swollen = ray.limb.half_breadths_mm.copy()
    swollen[at_pip] += 3.0
    rays = {**yoke.limb.rays, "ring": replace(ray, limb=replace(ray.limb, half_breadths_mm=swollen))}
    found = failing(replace(yoke, limb=FourFingers(rays)), case)
    assert "ring: room for the PIP as the finger slides in" in found["relative_motion"]


def test_half_the_difference(make_case: MakeCase, yoke: Orthosis) -> None:
    """A band built for 10 degrees where 20 are asked."""
    case = yoke_case(make_case, mcp_difference_deg=10.0)
    half = relative_motion.KIND.build(case)
    faulty = replace(half, differences=yoke.differences)
    assert list(failing(faulty, case)) == ["relative_motion"]
    assert failing(faulty, case)["relative_motion"] == [
        "middle MCP more extended than its neighbours (asked 20)"
    ]


def test_the_other_way_round(case: Case, yoke: Orthosis) -> None:
    (asked,) = yoke.differences
    faulty = replace(
        yoke, differences=(AngleDifference(asked.joint, asked.neighbours, -asked.more_extended_deg),)
    )
    assert "relative_motion" in failing(faulty, case)


def test_a_band_in_the_web(case: Case, yoke: Orthosis) -> None:
    part = yoke.parts[0]
    assert isinstance(yoke.limb, FourFingers)
    distal = yoke.limb.rays["middle"].hand_from_finger()[:3, 0]
    mesh = Mesh(part.shell.mesh.vertices - 5.0 * distal, part.shell.mesh.faces)
    found = failing(replace(yoke, parts=(replace(part, shell=replace(part.shell, mesh=mesh)),)), case)
    assert any("web" in what for what in found["relative_motion"])


def test_a_band_over_the_pip(case: Case, yoke: Orthosis) -> None:
    part = yoke.parts[0]
    assert isinstance(yoke.limb, FourFingers)
    distal = yoke.limb.rays["middle"].hand_from_finger()[:3, 0]
    mesh = Mesh(part.shell.mesh.vertices + 10.0 * distal, part.shell.mesh.faces)
    found = failing(replace(yoke, parts=(replace(part, shell=replace(part.shell, mesh=mesh)),)), case)
    assert any("PIP" in what for what in found["relative_motion"])
    assert "motion" in found


def test_a_short_proximal_phalanx_is_refused(make_case: MakeCase) -> None:
    measured = {"sex": "man", "hand_length_mm": 193.0, "middle": {"web_crease_to_pip_crease_mm": 10.0}}
    case = make_case(YOKE, measured=measured)
    with pytest.raises(ShapingError, match=r"on the middle finger .* mm are free between web and PIP"):
        relative_motion.KIND.build(case)
