"""Hand and forearm: girths come back from a tape on the mesh, the one skin lies on the fingers, joints turn what they should."""

from typing import Any

import numpy as np
import pytest
import trimesh
from scipy.spatial import ConvexHull

from print3d.errors import InputError, LimbError
from print3d.geometry.frames import apply
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import Surface
from print3d.inputs.measured import FINGERS
from print3d.limb.estimates import estimate_hand
from print3d.limb.finger import FingerPose
from print3d.limb.hand import HandLimb, HandPose, build_hand
from print3d.limb.hand_clearance import extension_deg
from print3d.limb.hand_estimates import estimate_hand_and_forearm, styloid_distance_mm
from print3d.limb.hand_fold import Fold, placed
from print3d.limb.hand_section import Ovals, around_all, directions
from print3d.limb.hand_unrolled import UnrolledHand
from print3d.limb.joint_id import JointId
from print3d.limb.norms import adult_norm
from tests.conftest import in_ci

MAN = {
    "hand_length_mm": 193.0, "hand_breadth_mm": 88.0, "hand_girth_mm": 212.0, "wrist_girth_mm": 176.0,
    "forearm_length_mm": 268.0, "forearm_girth_at_50_mm": 193.0, "forearm_girth_at_100_mm": 225.0,
    "forearm_girth_at_150_mm": 260.0,
}  # fmt: skip
WOMAN = {
    "hand_length_mm": 168.0,
    "hand_girth_mm": 178.0,
    "wrist_girth_mm": 148.0,
    "forearm_girth_at_100_mm": 190.0,
}
CHILD = {"age_years": 5.0, "hand_length_mm": 124.0, "wrist_girth_mm": 118.0, "forearm_girth_at_50_mm": 128.0}
PEOPLE = [(MAN, "man"), (WOMAN, "woman"), (CHILD, None)]


def hand(
    given: dict[str, float], sex: Any = "man", mcp: float | dict[str, float] = 0.0, wrist: float = 0.0
) -> HandLimb:
    angles = mcp if isinstance(mcp, dict) else dict.fromkeys(FINGERS, mcp)
    measures = estimate_hand_and_forearm(given, sex, {})
    return build_hand(measures, HandPose(wrist, {name: FingerPose(angles[name]) for name in FINGERS}))


def taped(mesh: Mesh, x_mm: float) -> tuple[float, np.ndarray]:
    """Girth by a tape across x, and breadth and depth there: on the mesh itself, by another library."""
    section = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).section([1, 0, 0], [x_mm, 0, 0])
    assert section is not None
    points = section.vertices[:, 1:]
    return float(ConvexHull(points).area), np.ptp(points, axis=0)


def without_thumb(limb: HandLimb) -> Mesh:
    thumb = len(limb.thumb.body("at_rest").vertices)
    mesh = limb.skin_mesh()
    n = len(mesh.vertices) - thumb
    return Mesh(mesh.vertices[:n], mesh.faces[(mesh.faces < n).all(axis=1)])


@pytest.mark.parametrize(("given", "sex"), PEOPLE)
def test_a_tape_on_the_limb_reads_the_given_girths(given: dict[str, float], sex: Any) -> None:
    limb = hand(given, sex)
    measures = estimate_hand_and_forearm(given, sex, {})
    mesh = without_thumb(limb)
    for place, estimate in measures.forearm_girths_mm.items():
        if place < 0.97 * limb.forearm.length_mm:
            assert taped(mesh, -place)[0] == pytest.approx(estimate.value, rel=0.005)
    at_heads = float(np.mean([ray.mcp_centre[0] for ray in limb.rays.values()]))
    girth, (breadth, _) = taped(mesh, at_heads)
    assert girth == pytest.approx(measures.hand["hand_girth_mm"].value, rel=0.005)
    assert breadth == pytest.approx(
        measures.hand["hand_breadth_mm"].value, rel=0.01
    )  # the tape lies distal of the little finger's head


def test_thickness_and_wrist_are_those_of_published_men() -> None:
    mesh = without_thumb(hand(MAN))
    heads = float(np.mean([ray.mcp_centre[0] for ray in hand(MAN).rays.values()]))
    assert (
        27.0 - 6.0 < taped(mesh, heads)[1][1] - 5.0 < 38.0
    )  # 27 to 38 at one head (Bodyspace, from memory); the arch adds
    _, (breadth, depth) = taped(mesh, -styloid_distance_mm(estimate_hand(MAN, "man")))
    assert 0.65 <= depth / breadth <= 0.72  # references: wrist depth over breadth, from memory
    assert (
        58.0 - 2 * 3.0 <= breadth <= 58.0 + 2 * 3.0
    )  # 58 (SD 3) between the styloids (ANSUR 1988, from memory)


WRIST_BREADTH_MM = {"man": (58.0, 3.0), "woman": (52.0, 3.0)}
"""Between the styloids, mean and SD (ANSUR 1988 and similar, from memory)."""


@pytest.mark.parametrize("sex", ["man", "woman"])
@pytest.mark.parametrize("size", [-1.6, 0.0, 1.6])
def test_breadth_and_depth_of_small_and_large_hands_are_in_the_published_ranges(
    sex: Any, size: float
) -> None:
    """Hands of P5, P50 and P95 in length, breadth and girths (ANSUR II 2012): the wrist 0.65 to 0.72 as deep as broad (from memory)."""
    norm = adult_norm(sex)
    keys = ("hand_length_mm", "hand_breadth_mm", "hand_girth_mm", "wrist_girth_mm", "forearm_length_mm")
    at = norm.places(keys)
    given = {key: float(value) for key, value in zip(keys, norm.mean[at] + size * norm.sd[at], strict=True)}
    limb = hand(given, sex)
    mesh, measures = without_thumb(limb), estimate_hand_and_forearm(given, sex, {})
    girth, (breadth, depth) = taped(mesh, -limb.wrist_tape_mm)
    assert girth == pytest.approx(given["wrist_girth_mm"], rel=0.005)
    assert 0.65 <= depth / breadth <= 0.72
    mean, sd = WRIST_BREADTH_MM[sex]
    soft = 6.0  # over both styloids: a tape lies on skin
    assert mean - 3.0 * sd <= breadth <= mean + 3.0 * sd + soft
    for place in list(measures.forearm_girths_mm)[1:-1]:
        _, (breadth, depth) = taped(mesh, -place)
        assert 0.65 <= depth / breadth <= 1.0  # flat at the wrist, round towards the elbow


def test_forearm_grows_rounder_towards_the_elbow() -> None:
    limb = hand(MAN)
    breadth, depth, exponent = limb.forearm.sections(np.array([12.0, 60.0, 120.0, 200.0]))
    assert (np.diff(depth / breadth) > 0.0).all()
    assert (np.diff(exponent) < 0.0).all()
    assert (np.diff(limb.forearm.girth_mm(np.linspace(12.0, 210.0, 200))) > 0.0).all()


@pytest.mark.parametrize(
    ("given", "sex", "mcp", "wrist"),
    [
        (MAN, "man", 0.0, 0.0),
        (MAN, "man", 50.0, 0.0),
        (MAN, "man", 90.0, 30.0),
        (MAN, "man", {"index": 40.0, "middle": 50.0, "ring": 55.0, "little": 60.0}, -30.0),
        (WOMAN, "woman", 70.0, 0.0),
        (CHILD, None, 50.0, 0.0),
    ],
)
def test_the_one_skin_lies_on_the_fingers_and_never_cuts_deep_into_them(
    given: Any, sex: Any, mcp: Any, wrist: float
) -> None:
    limb = hand(given, sex, mcp, wrist)
    skin = limb.skin
    stations = np.arange(
        skin.station_of("little", limb.rays["little"].limb.landmarks["web"]), skin.ends_mm[1] - 31.0, 1.5
    )
    grid = np.meshgrid(stations, np.linspace(-0.25, 0.25, 81), indexing="ij")
    gap = limb.gap_mm(skin.points(grid[0].ravel(), grid[1].ravel()))
    assert gap.min() > -0.45  # at the little finger's base; everywhere else less
    assert np.percentile(gap, 1.0) > -0.15
    over_middle = gap.reshape(grid[0].shape).min(axis=1)
    assert np.percentile(np.abs(over_middle), 90.0) < 0.3  # it touches some finger at every level


@pytest.mark.parametrize("wrist", [-40.0, 0.0, 25.0])
def test_the_wrist_turns_the_forearm_and_leaves_the_hand(wrist: float) -> None:
    straight, bent = hand(MAN, mcp=50.0), hand(MAN, mcp=50.0, wrist=wrist)
    fractions = np.linspace(-0.25, 0.25, 11)
    far = bent.skin.wrist_side_station(np.array(-150.0).item())
    arm = bent.skin.points(np.full(11, far), fractions) - bent.skin.points(np.full(11, far + 20.0), fractions)
    sloped = np.degrees(np.arctan2(arm.mean(axis=0)[2], -arm.mean(axis=0)[0]))
    level = straight.skin.points(np.full(11, -150.0), fractions) - straight.skin.points(
        np.full(11, -130.0), fractions
    )
    before = np.degrees(np.arctan2(level.mean(axis=0)[2], -level.mean(axis=0)[0]))
    assert sloped - before == pytest.approx(
        -wrist, abs=0.6
    )  # flexing the hand is lowering the elbow of a level hand
    heads = [
        limb.skin.points(np.full(11, limb.skin.station_of("middle", 0.0)), fractions)
        for limb in (straight, bent)
    ]
    assert np.abs(heads[0] - heads[1]).max() < 0.02


def test_skin_over_a_knuckle_keeps_its_distance_and_lengthens_by_height_times_angle() -> None:
    fold = Fold(np.radians(60.0), 14.0)
    along = np.linspace(-60.0, 60.0, 4001)
    distance, angle = fold.at(along)
    height = np.full_like(along, 14.0)
    points = placed(np.zeros((len(along), 3)), distance, height, angle)
    assert np.allclose(np.linalg.norm(points, axis=1), np.hypot(distance, 14.0))
    assert (np.diff(distance) > 0.0).all()  # the segments are nowhere folded back
    longer = 120.0 - (distance[-1] - distance[0])
    assert longer == pytest.approx(
        14.0 * np.radians(60.0)
    )  # r times theta: references, dorsal lengthening over a hinge
    speed = np.linalg.norm(np.diff(points, axis=0), axis=1) / np.diff(along)
    assert speed.min() > 0.99
    assert speed.max() < 1.25


def test_section_around_ovals_is_convex_and_outside_each() -> None:
    ovals = Ovals(
        np.array([-30.0, -12.0, 8.0, 30.0]), np.array([-6.0, 0.0, 1.0, -2.0]), np.array([9.0, 10.0, 10.5, 10.0]),
        np.array([8.0, 9.5, 10.0, 9.5]), np.full(4, 2.5), np.array([-0.1, 0.0, 0.0, 0.05]),
    )  # fmt: skip
    phi = directions()
    support, points = around_all(ovals, phi)
    each, touching = ovals.supports(phi)
    assert (support >= each.max(axis=0) - 1e-9).all()
    assert (support - each.max(axis=0)).max() < 0.15 * np.log(2.0) + 1e-9
    reach = points @ np.array([np.sin(phi), np.cos(phi)])
    assert np.allclose(np.diag(reach), support)
    assert ConvexHull(points[:-1]).area == pytest.approx(
        np.linalg.norm(np.diff(points, axis=0), axis=1).sum(), rel=1e-4
    )
    assert (touching.shape, each.shape) == ((4, len(phi), 2), (4, len(phi)))


def test_pattern_plane_keeps_small_circles_nearly_round_on_hand_and_forearm() -> None:
    limb = hand(MAN, mcp=50.0)
    plane = UnrolledHand(limb)
    along = np.linspace(float(plane.along(-150.0)), float(plane.along(60.0)), 30)
    for around in (-30.0, 0.0, 30.0):
        places = np.full(30, around)
        first = plane.points(along + 0.5, places) - plane.points(along - 0.5, places)
        second = plane.points(along, places + 0.5) - plane.points(along, places - 0.5)
        sizes = np.linalg.norm(first, axis=1) / np.linalg.norm(second, axis=1)
        assert np.abs(sizes - 1.0).max() < 0.2
        assert np.allclose(np.linalg.norm(second, axis=1), plane.scale_along(along), rtol=0.12)


def test_extension_is_gap_over_lever() -> None:
    limb = hand(MAN, mcp=50.0)
    middle = limb.rays["middle"].limb
    found = extension_deg(limb, "middle", 1.0)
    for joint, start in (("mcp", 0.0), ("pip", middle.landmarks["pip"])):
        lever = (
            middle.landmarks["nail_fold"] - start
        )  # the middle finger lies on the one skin up to its nail fold
        assert found[JointId("middle", joint)] == pytest.approx(np.degrees(1.0 / lever), rel=0.15)
    doubled = extension_deg(limb, "middle", 2.0)
    assert all(doubled[joint] > found[joint] for joint in found)


def test_measured_forearm_girths_are_kept_and_narrow_their_neighbours() -> None:
    few = estimate_hand_and_forearm({"hand_length_mm": 190.0, "wrist_girth_mm": 174.0}, "man", {})
    more = estimate_hand_and_forearm(
        {"hand_length_mm": 190.0, "wrist_girth_mm": 174.0, "forearm_girth_at_100_mm": 240.0}, "man", {}
    )
    assert more.forearm_girths_mm[100.0].value == 240.0
    assert more.forearm_girths_mm[100.0].is_measured
    assert min(each.sd for each in few.forearm_girths_mm.values() if not each.is_measured) > 0.0
    beside = next(place for place in more.forearm_girths_mm if place > 100.0)
    before = next(place for place in few.forearm_girths_mm if place > 100.0)
    assert more.forearm_girths_mm[beside].sd < few.forearm_girths_mm[before].sd
    assert "forearm_girth" in " ".join(few.estimated())


def test_girth_and_breadth_that_exclude_each_other_are_named() -> None:
    with pytest.raises(LimbError, match=r"hand_girth_mm = 330: does not go with hand_breadth_mm = 88"):
        hand({**MAN, "hand_girth_mm": 330.0})


def test_forearm_girths_out_of_order_are_refused(make_case: Any) -> None:
    with pytest.raises(InputError) as refusal:
        make_case(
            {"kind": "dorsal_blocking"},
            measured={"wrist_girth_mm": 176.0, "forearm_girth_at_50_mm": 160.0, "forearm_girth_mm": 280.0,
                      "forearm_girth_at_150_mm": 300.0, "forearm_girth_at_200_mm": 270.0, "forearm_length_mm": 190.0},
        )  # fmt: skip
    text = str(refusal.value)
    assert "wrist_girth_mm = 176" in text
    assert "forearm_girth_at_150_mm = 300" in text
    assert "forearm_girth_at_200_mm = 270: 200 mm from the wrist is no forearm" in text


def test_bony_points_lie_on_the_back_over_their_bones() -> None:
    limb = hand(MAN, mcp=50.0)
    points = limb.bony_points
    for name, ray in limb.rays.items():
        station, fraction = points[f"{name} metacarpal head"]
        on_skin = limb.skin.points(np.array([station]), np.array([fraction]))[0]
        assert abs(on_skin[1] - ray.mcp_centre[1]) < 0.5
        assert 10.0 < np.linalg.norm(on_skin - ray.mcp_centre) < 18.0
    styloid = limb.skin.points(*(np.array([each]) for each in points["ulnar styloid"]))[0]
    assert styloid[0] < 0.0
    assert styloid[1] < -10.0
    assert styloid[2] > 5.0


def test_thumb_starts_in_the_hand_and_points_away_radially() -> None:
    limb = hand(MAN)
    for pose in ("at_rest", "abducted"):
        centres = limb.thumb.centres(pose)
        shares = (0.251, 0.196, 0.158)  # Buchholz et al. 1992
        lengths = np.linalg.norm(np.diff(centres, axis=0), axis=1)
        assert lengths == pytest.approx([share * 193.0 for share in shares])
        assert (np.diff(centres[:, 1]) > 0.0).all()
        body = limb.thumb.body(pose)
        assert trimesh.Trimesh(body.vertices, body.faces, process=False).is_volume
    mcp = apply(np.eye(4), limb.thumb.centres("at_rest")[1:2])[0]
    assert mcp[2] < 0.0


@pytest.mark.parametrize("mcp", [0.0, in_ci(50.0)])
def test_roots_of_fingers_are_closed_and_stay_under_the_back(mcp: float) -> None:
    """They fill the hollows that a shell over the back bridges; 0.3 mm above the back, less than any clearance, there is none of them."""
    limb = hand(MAN, mcp=mcp)
    stations = np.arange(0.0, limb.skin.ends_mm[1] - 40.0, 0.5)
    fractions = np.linspace(-0.2, 0.2, 160)
    places = np.meshgrid(stations, fractions, indexing="ij")
    back = limb.skin.points(*(each.ravel() for each in places)).reshape(*places[0].shape, 3)
    outward = np.cross(np.gradient(back, axis=0), np.gradient(back, axis=1))
    outward /= np.linalg.norm(outward, axis=2, keepdims=True)
    assert outward[0, len(fractions) // 2, 2] > 0.9
    above = (back + 0.3 * outward).reshape(-1, 3)
    for ray in limb.skin.rays:
        root = ray.root()
        assert trimesh.Trimesh(root.vertices, root.faces, process=False).is_volume
        assert Surface(root).signed(above).min() > 0.0
        assert Surface(root).signed(back.reshape(-1, 3)).min() < 0.5  # and near it
