"""The dorsal blocking orthosis: what it is for, measured; regimens; planted faults."""

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from print3d.checks.finding import Finding, Limit
from print3d.checks.flare import check_flare
from print3d.checks.laps import check_laps
from print3d.checks.limits import limits_of_case
from print3d.checks.openings import check_openings
from print3d.checks.reach import check_reach, measure_forearm_share
from print3d.checks.stops import check_stops
from print3d.checks.suite import run_suite
from print3d.errors import InputError, ShapingError
from print3d.forms.orthosis import Orthosis, Part
from print3d.geometry.bed import fits_bed
from print3d.geometry.mesh import Mesh
from print3d.inputs.case import Case
from print3d.inputs.case_file import case_from_data
from print3d.inputs.measured import FINGERS
from print3d.inputs.toml_file import read_toml
from print3d.kinds.dorsal_blocking.asked import asked_pose
from print3d.kinds.dorsal_blocking.kind import KIND
from print3d.kinds.registry import KINDS
from print3d.language.message import as_it_stands
from print3d.limb.estimates import dimension
from print3d.limb.finger import FingerPose
from print3d.limb.hand import HandPose
from print3d.limb.joint_id import JointId
from print3d.output.estimates import line_of, lines_of
from print3d.shell.curves import circle
from print3d.shell.mesh import build_mesh
from tests.conftest import CASES, genus, is_closed
from tests.taped import taped

FILE = CASES / "dorsal_blocking.toml"
OPTIONS = {name: kind.options for name, kind in KINDS.items()}


def pose_of(case: Case) -> HandPose:
    return asked_pose(case, KIND.own(case))


def case_with(options: dict[str, Any], source: Path = FILE, **tables: dict[str, Any]) -> Case:
    data = read_toml(FILE)
    data["orthosis"] = {"kind": "dorsal_blocking", **options}
    both = {**data, **tables}
    return case_from_data({**both, "measured": taped(both["measured"])}, OPTIONS, source)


@pytest.fixture(scope="module")
def case() -> Case:
    return case_from_data(read_toml(FILE), OPTIONS, FILE)


@pytest.fixture(scope="module")
def orthosis(case: Case) -> Orthosis:
    return KIND.build(case)


@pytest.fixture(scope="module")
def findings(case: Case, orthosis: Orthosis) -> list[Finding]:
    return list(run_suite(orthosis, limits_of_case(case)))


def with_part(orthosis: Orthosis, vertices: np.ndarray) -> Orthosis:
    part = orthosis.parts[0]
    moved = replace(part.shell, mesh=Mesh(vertices, part.shell.mesh.faces))
    return replace(orthosis, parts=(replace(part, shell=moved),))


def failing(found: list[Finding]) -> list[str]:
    return [each.said("en") for each in found if not each.holds]


def test_every_check_holds(findings: list[Finding]) -> None:
    assert failing(findings) == []


def test_body_is_closed_with_the_openings_of_its_pattern(orthosis: Orthosis) -> None:
    (part,) = orthosis.parts
    assert is_closed(part.shell.mesh)
    assert genus(part.shell.mesh) == len(part.definition.pattern.holes)
    assert len(part.definition.pattern.vents) >= 100


def test_fingers_flex_away_freely_and_every_joint_is_stopped(findings: list[Finding]) -> None:
    free = [each for each in findings if each.check == "motion"]
    stops = [each for each in findings if each.check == "stops"]
    assert len(free) == len(stops) == 12
    for each in stops:  # what the clearance lets through is worked out beforehand and comes out on the mesh
        low, high = each.limit
        assert abs(each.measured - (low + high) / 2.0) < 1.0, each.said("en")


def test_a_stop_off_by_eight_degrees_is_found(case: Case, orthosis: Orthosis) -> None:
    stops = tuple(
        replace(stop, at_deg=stop.at_deg + 8.0) if stop.joint == JointId("ring", "mcp") else stop
        for stop in orthosis.stops
    )
    (found,) = failing(check_stops(replace(orthosis, stops=stops), limits_of_case(case)))
    assert found.startswith("ring MCP extension stopped")


def test_a_shell_that_ends_short_of_a_fingertip_is_found(case: Case, orthosis: Orthosis) -> None:
    tips = np.array([ray.hand_from_finger()[:3, 0] for ray in orthosis.limb.rays.values()]).mean(axis=0)
    part = orthosis.parts[0]
    shifted = with_part(orthosis, part.shell.mesh.vertices - 12.0 * tips)
    found = failing(check_reach(shifted, limits_of_case(case)))
    assert any("middle fingertip" in what for what in found)


def test_a_trough_over_the_elbow_is_found(case: Case, orthosis: Orthosis) -> None:
    vertices = orthosis.parts[0].shell.mesh.vertices.copy()
    proximal = vertices[:, 0] < -40.0
    vertices[proximal, 0] = -40.0 + 1.8 * (vertices[proximal, 0] + 40.0)
    assert measure_forearm_share(orthosis.limb, vertices)[0] > 1.0
    assert failing(check_reach(with_part(orthosis, vertices), limits_of_case(case))) == [
        "share of the forearm that is covered"
    ]


def test_a_radial_side_that_reaches_the_thumb_is_found(case: Case, orthosis: Orthosis) -> None:
    centre = orthosis.limb.thumb.centres("at_rest")[1]
    vertices = orthosis.parts[0].shell.mesh.vertices.copy()
    nearest = np.argmin(np.linalg.norm(vertices - centre, axis=1))
    vertices[nearest] = centre
    found = failing(check_reach(with_part(orthosis, vertices), limits_of_case(case)))
    assert any(what.startswith("thumb at rest") for what in found)


def test_openings_keep_their_margins(case: Case, orthosis: Orthosis) -> None:
    pattern = orthosis.parts[0].definition.pattern
    outline = shapely.Polygon(pattern.boundary[0].points)
    slots = [shapely.Polygon(hole.points) for hole in pattern.holes if hole.kind == "slot"]
    assert len(slots) == 6  # forearm, wrist and palm
    for hole in pattern.holes:
        assert shapely.Polygon(hole.points).distance(outline.exterior) > 3.0
    for vent in pattern.vents:
        assert all(shapely.Polygon(vent.points).distance(slot) > 3.0 for slot in slots)


def with_vent_beside_a_slot(orthosis: Orthosis, between_mm: float) -> Orthosis:
    """One more vent, so far from the palm side of the first slot; rims are made sharper so that it can be meshed."""
    part = orthosis.parts[0]
    definition = replace(part.definition, rim_radius_mm=0.3)
    slot = next(hole for hole in definition.pattern.holes if hole.kind == "slot")
    to_back = -np.sign(slot.points[:, 1].mean())
    nearest = slot.points[np.argmax(to_back * slot.points[:, 1])]
    vent = circle(nearest + [0.0, to_back * (3.0 + between_mm)], 3.0, "vent", 0.02)
    pattern = replace(definition.pattern, holes=(slot, vent))
    definition = replace(definition, pattern=pattern)
    return replace(orthosis, parts=(replace(part, definition=definition, shell=build_mesh(definition)),))


def test_a_vent_beside_a_slot_is_found_and_one_over_it_is_refused(case: Case, orthosis: Orthosis) -> None:
    limits = limits_of_case(case)
    wide = check_openings(with_vent_beside_a_slot(orthosis, 4.0), limits)
    assert failing(wide) == []
    narrow = check_openings(with_vent_beside_a_slot(orthosis, 1.2), limits)
    assert [what.split(": ")[1] for what in failing(narrow)] == [
        "narrowest bridge between openings, or to a trim line"
    ]
    with pytest.raises(ShapingError, match="slot come too close|vent come too close"):
        with_vent_beside_a_slot(orthosis, -2.0)


def test_what_was_not_measured_takes_a_line_for_the_hand_and_one_for_each_finger(
    case: Case, orthosis: Orthosis
) -> None:
    estimated = orthosis.limb.measures.estimated()
    lines = [line_of(name, found).said("en") for name, found in estimated.items()]
    assert [line.split(", in mm")[0] for line in lines[1:]] == [f"{name} finger" for name in FINGERS]
    for (finger, found), line in zip(estimated.items(), lines, strict=True):
        for each, key in zip(lines_of(finger, found), found, strict=True):
            name = dimension(key).said("en")
            assert name in each.said("en")
            assert f"{name} {found[key].value:.1f} ({found[key].sd:.1f})" in line


@pytest.mark.slow(in_ci=True)
def test_a_slot_far_from_the_edge_bends_no_more_than_its_rim_can() -> None:
    """So far inside, the line beside the trim line has corners where the hand widens: a slot around one would run into itself."""
    options = {"wall_mm": 3.3, "rim_radius_mm": 1.41, "vents": {"edge_margin_mm": 7.8}, "form": "hand"}
    woman = {"sex": "woman", "stature_mm": 1585.0, "hand_girth_mm": 209.8, "wrist_girth_mm": 171.3}
    built = KIND.build(case_with(options, measured=woman))
    definition = built.parts[0].definition
    insets = [
        shapely.Polygon(definition.inset(loop, definition.rim_radius_mm)) for loop in definition.pattern.holes
    ]
    assert all(inset.is_valid for inset in insets)
    assert is_closed(built.parts[0].shell.mesh)


def test_an_end_that_flares_less_than_the_trade_makes_it_is_found(case: Case, orthosis: Orthosis) -> None:
    """3 to 5 mm at the proximal end of a shell on hand or forearm: common practice, no single source; only there."""
    limits = limits_of_case(case)
    assert {each.about.of: each.limit for each in check_flare(orthosis, limits)} == {
        (("end", "proximal"),): (3.0, 5.0),
        (("end", "distal"),): limits.flare_mm.value if limits.flare_mm else None,
    }
    low = case_with({"form": "hand", "vents": {"grid": "none"}, "flare": {"height_mm": 2.0}})
    found = check_flare(KIND.build(low), limits_of_case(low))
    assert [each.about.of for each in found if not each.holds] == [(("end", "proximal"),)]


def test_slots_pass_their_straps(orthosis: Orthosis) -> None:
    part: Part = orthosis.parts[0]
    lengths = []
    for loop in part.definition.pattern.holes:
        if loop.kind == "slot":
            on_skin = part.definition.inner.points(*loop.points.T)
            lengths.append(float(np.linalg.norm(on_skin[:, None] - on_skin[None], axis=2).max()))
    assert np.sort(lengths) == pytest.approx([26.0] * 4 + [51.0] * 2, abs=2.0)


@pytest.mark.parametrize(
    ("protocol", "wrist", "mcp"),
    [("early_active", 0.0, 30.0), ("delayed_mobilisation", 30.0, 45.0), ("zones_iii_to_v", 0.0, 60.0)],
)
def test_a_regimen_gives_the_published_angles(protocol: str, wrist: float, mcp: float) -> None:
    """Peck et al. 2014; Eaton thr074; common practice."""
    pose = pose_of(case_with({"protocol": protocol}))
    assert pose.wrist_flexion_deg == wrist
    assert set(pose.fingers.values()) == {FingerPose(mcp, 0.0, 0.0)}


def test_without_regimen_it_is_wrist_0_mcp_50() -> None:
    pose = pose_of(case_with({}))
    assert (pose.wrist_flexion_deg, set(pose.fingers.values())) == (0.0, {FingerPose(50.0, 0.0, 0.0)})


def test_angles_of_the_case_go_before_the_regimen() -> None:
    options = {"protocol": "delayed_mobilisation", "wrist_extension_deg": 10.0, "ring_mcp_flexion_deg": 55.0}
    pose = pose_of(case_with(options))
    assert pose.wrist_flexion_deg == -10.0
    assert [pose.fingers[name].mcp_flexion_deg for name in FINGERS] == [45.0, 45.0, 55.0, 45.0]


def test_a_clinics_own_regimen_goes_first(tmp_path: Path) -> None:
    (tmp_path / "protocols").mkdir()
    (tmp_path / "protocols" / "own.toml").write_text(
        '[early_active]\ntitle = "ours"\nmcp_flexion_deg = 40\nsource = "clinic, 2024"\nmark = "seen"\n',
        encoding="utf-8",
    )
    pose = pose_of(case_with({"protocol": "early_active"}, tmp_path / "cases" / "a.toml"))
    assert set(pose.fingers.values()) == {FingerPose(40.0, 0.0, 0.0)}


def test_a_faulty_regimen_is_named_with_file_and_key(tmp_path: Path) -> None:
    (tmp_path / "protocols").mkdir()
    (tmp_path / "protocols" / "own.toml").write_text(
        '[ours]\ntitle = "x"\nmcp_flexion_deg = 140\n', encoding="utf-8"
    )
    with pytest.raises(InputError, match=r"own\.toml: ours\.mcp_flexion_deg = 140"):
        pose_of(case_with({"protocol": "ours"}, tmp_path / "cases" / "a.toml"))


REFUSED: list[tuple[dict[str, Any], str]] = [
    (
        {"protocol": "early_activ"},
        'orthosis.protocol = "early_activ": not a known protocol; the nearest is "early_active"',
    ),
    ({"wrist_flexion_deg": 20.0, "wrist_extension_deg": 20.0}, "the wrist cannot be extended and flexed"),
    ({"wrist_flexion_deg": 50.0}, 'without [override] allow = ["wrist_flexion"]'),
    (
        {"form": "hand", "wrist_extension_deg": 20.0},
        "orthosis.wrist_extension_deg = 20: the hand form leaves the wrist free",
    ),
    ({"ip_flexion_deg": 20.0}, 'without [override] allow = ["ip_flexion"]'),
    ({"mcp_flexion_deg": 95.0}, "orthosis.mcp_flexion_deg = 95: accepted is a number from 0 to 90 degrees"),
]


@pytest.mark.parametrize(("options", "words"), REFUSED)
def test_what_cannot_be_is_refused_in_words(options: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError) as refusal:
        pose_of(case_with(options))
    assert words in str(refusal.value)


def test_straps_that_crowd_each_other_are_refused_in_words() -> None:
    child = {"age_years": 2.0, "hand_length_mm": 105.0}
    with pytest.raises(ShapingError, match="choose narrower straps"):
        KIND.build(case_with({}, measured=child))


@pytest.mark.parametrize(
    ("angles", "named"),
    [
        ({"mcp_flexion_deg": 50.0}, ""),
        ({"mcp_flexion_deg": 50.0, "little_mcp_flexion_deg": 80.0}, "little finger 80"),
    ],
)
def test_unusual_mcp_angles_are_remarked(angles: dict[str, float], named: str) -> None:
    found = KIND.remarks(case_with(angles))
    assert (named in found[0].said("en")) if named else found == []


def test_hand_form_leaves_the_wrist_free() -> None:
    built = KIND.build(case_with({"protocol": "early_active_short"}))
    share, _ = measure_forearm_share(built.limb, built.parts[0].shell.mesh.vertices)
    assert share < 0.1


# --- two parts ----------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def two_parts() -> tuple[Case, Orthosis]:
    path = CASES / "dorsal_blocking_two_parts.toml"
    case = case_from_data(read_toml(path), OPTIONS, path)
    return case, KIND.build(case)


@pytest.mark.slow(in_ci=True)
def test_a_shell_too_long_for_the_bed_is_split_away_from_the_wrist(
    two_parts: tuple[Case, Orthosis],
) -> None:
    case, orthosis = two_parts
    inner, outer = orthosis.parts
    assert orthosis.laps == ((inner.name, outer.name),)
    whole = np.vstack([part.shell.mesh.vertices for part in orthosis.parts])
    assert not fits_bed(whole, case.printer.bed_mm)
    for part in orthosis.parts:
        assert fits_bed(part.shell.mesh.vertices, case.printer.bed_mm)
        assert is_closed(part.shell.mesh)
    assert inner.shell.mesh.vertices[:, 0].min() < outer.shell.mesh.vertices[:, 0].max() - 30.0  # they lap
    assert outer.shell.mesh.vertices[:, 0].max() < -50.0  # well proximal of the wrist
    assert failing(check_laps(orthosis, limits_of_case(case))) == []


def moved(orthosis: Orthosis, shift: tuple[float, float, float]) -> Orthosis:
    inner, outer = orthosis.parts
    mesh = Mesh(outer.shell.mesh.vertices + shift, outer.shell.mesh.faces)
    return replace(orthosis, parts=(inner, replace(outer, shell=replace(outer.shell, mesh=mesh))))


@pytest.mark.slow(in_ci=True)
@pytest.mark.parametrize(
    ("shift", "named"),
    [
        ((1.0, 0.0, 0.0), "farthest out of line"),
        ((0.0, 0.0, -1.0), "least gap"),
        ((0.0, 0.0, 2.0), "widest gap at a hole"),
    ],
)
def test_parts_that_do_not_go_together_are_found(
    two_parts: tuple[Case, Orthosis], shift: tuple[float, float, float], named: str
) -> None:
    case, orthosis = two_parts
    assert any(named in what for what in failing(check_laps(moved(orthosis, shift), limits_of_case(case))))


def test_holes_too_near_an_edge_are_found(two_parts: tuple[Case, Orthosis]) -> None:
    case, orthosis = two_parts
    narrow = replace(limits_of_case(case), hole_edge_mm=Limit(9.0, as_it_stands("planted")))
    assert sum("nearest to a trim line" in what for what in failing(check_laps(orthosis, narrow))) == 2


@pytest.mark.parametrize(
    ("size", "bed", "goes"),
    [((300.0, 10.0, 10.0), (250.0, 250.0, 250.0), True), ((300.0, 10.0, 10.0), (200.0, 200.0, 200.0), True),
     ((100.0, 90.0, 80.0), (80.0, 100.0, 90.0), True), ((10.0, 360.0, 10.0), (200.0, 200.0, 200.0), False)],
)  # fmt: skip
def test_fitting_a_bed_counts_tilted_positions(size: Any, bed: Any, goes: bool) -> None:
    """A rod of 300 mm lies along the diagonal of a square of 250 mm, 353 mm; in a cube of 200 mm it leans, 346 mm; 360 mm do not fit."""
    corners = np.array(np.meshgrid(*[(0.0, side) for side in size])).reshape(3, -1).T
    assert fits_bed(corners, bed) is goes


VARIED = [
    ({"mcp_flexion_deg": 0.0}, {}),
    ({"mcp_flexion_deg": 90.0, "wrist_extension_deg": 45.0}, {}),
    ({"wrist_flexion_deg": 45.0}, {}),
    ({"index_mcp_flexion_deg": 40.0, "ring_mcp_flexion_deg": 60.0, "little_mcp_flexion_deg": 70.0}, {}),
    ({"ip_flexion_deg": 10.0, "straps": {"fingers_width_mm": 25.0}}, {}),
    ({"form": "hand"}, {"measured": {"sex": "woman", "hand_length_mm": 165.0}}),
    (
        {"vents": {"diameter_mm": 4.0, "pitch_mm": 8.0}},
        {"measured": {"age_years": 6.0, "hand_length_mm": 130.0}},
    ),
]


@pytest.mark.slow
@pytest.mark.parametrize(("options", "tables"), VARIED)
def test_every_form_is_sound_or_says_the_wall_that_makes_it_so(
    options: dict[str, Any], tables: dict[str, Any]
) -> None:
    varied = case_with(options, **tables)
    findings = list(run_suite(KIND.build(varied), limits_of_case(varied)))
    if failing(findings):
        (wall,) = set(
            re.findall(
                r"wall 3\.0 -> (\d\.\d) mm would hold", " ".join(each.method("en") for each in findings)
            )
        )
        varied = case_with({**options, "wall_mm": float(wall)}, **tables)
        findings = list(run_suite(KIND.build(varied), limits_of_case(varied)))
    assert failing(findings) == []


@pytest.mark.slow
def test_solid_is_valid_and_as_large_as_the_mesh(orthosis: Orthosis) -> None:
    from print3d.shell.solid import build_solid

    (part,) = orthosis.parts
    solid = build_solid(part.definition)
    assert solid.isValid()
    assert solid.Volume(1e-4) == pytest.approx(part.shell.mesh.volume_mm3(), rel=0.003)


def test_planned_and_measured_gap_agree(findings: list[Finding]) -> None:
    (off,) = [each for each in findings if each.key == "gap.plan"]
    assert off.measured < 0.02
