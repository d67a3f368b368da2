"""Training models: closed, of the case's girths, dorsal unlike volar, the left hand a mirror of the right, pairs that fit."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import igl
import numpy as np
import pytest
import shapely
import trimesh

from print3d.errors import InputError
from print3d.geometry.frames import apply, mirrored, rigid
from print3d.geometry.mesh import Mesh
from print3d.inputs.model_case import ModelCase, model_case_from_data, read_model_case
from print3d.inputs.toml_file import read_toml
from print3d.kinds.registry import KINDS
from print3d.training import pair
from print3d.training.body import finger_body, finger_limb
from print3d.training.booleans import extruded, mesh_of, placed
from print3d.training.build import Model, build_model
from print3d.training.level_set import intersection, surface, union
from print3d.training.make import build_case
from print3d.training.measure import closed, girths, supported
from print3d.training.names import body_name
from print3d.training.poses import POSES
from tests.conftest import in_ci

MODELS = Path(__file__).parents[2] / "params" / "models"
FINGERS = ("mallet", "swan_neck", "boutonniere")


def quiet(step: str) -> None:
    """Show nothing."""


def case_with(name: str, **model: Any) -> ModelCase:
    data = read_toml(MODELS / f"{name}.toml")
    return model_case_from_data({**data, "model": {**data["model"], **model}}, MODELS / f"{name}.toml")


@pytest.fixture(scope="module", params=[FINGERS[0], *map(in_ci, FINGERS[1:])])
def finger(request: pytest.FixtureRequest) -> Model:
    return build_model(read_model_case(MODELS / f"{request.param}.toml"), quiet)


def only(model: Model) -> Mesh:
    (mesh,) = model.parts.values()
    return mesh


def as_trimesh(mesh: Mesh) -> trimesh.Trimesh:
    return trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)


def test_six_cases_are_shipped_and_fit_the_default_printer() -> None:
    cases = [read_model_case(path) for path in sorted(MODELS.glob("*.toml"))]
    assert len(cases) == 6
    assert {case.print.printer for case in cases} == {"extrusion"}
    assert len({case.header.code for case in cases}) == 6
    assert {case.model.pose for case in cases} == {
        "mallet", "swan_neck", "boutonniere", "flexor_repair", "neutral",
    }  # fmt: skip


def test_a_finger_is_one_closed_body_and_every_check_holds(finger: Model) -> None:
    assert not [finding.key for finding in finger.findings if not finding.holds]
    assert as_trimesh(only(finger)).is_volume


def test_the_winding_number_is_one_inside_and_nought_outside(finger: Model) -> None:
    mesh = only(finger)
    corners, areas = mesh.corners(), mesh.area_vectors()
    sizes = np.linalg.norm(areas, axis=1)
    chosen = np.argsort(sizes)[-300:]
    normals, middles = areas[chosen] / sizes[chosen, None], corners[chosen].mean(axis=1)
    inside, outside = (np.ascontiguousarray(middles + way * normals) for way in (-0.05, 0.05))
    assert igl.winding_number(mesh.vertices, mesh.faces, inside) == pytest.approx(1.0, abs=1e-6)
    assert igl.winding_number(mesh.vertices, mesh.faces, outside) == pytest.approx(0.0, abs=1e-6)


def test_a_tape_on_the_mesh_of_an_independent_reader_reads_the_given_girths(finger: Model) -> None:
    given = finger.case.measured.finger_measures(finger.case.header.finger)
    limb, frame = finger.body.finger, finger.body.bed_from_limb()
    places = {"pip_girth_mm": "pip", "dip_girth_mm": "dip"}
    for key in places.keys() & given.keys():
        point, up = limb.spine.at(np.array([limb.landmarks[places[key]]]))
        ends = apply(frame, np.vstack([point, point + np.array([[up[0, 2], 0.0, -up[0, 0]]])]))
        if finger.case.header.side == "left":
            ends = mirrored(ends)
        section = as_trimesh(only(finger)).section(plane_origin=ends[0], plane_normal=ends[1] - ends[0])
        flat, _ = section.to_2D()
        hulls = [shapely.Polygon(polygon.exterior).convex_hull.length for polygon in flat.polygons_full]
        assert min(abs(hull / given[key] - 1.0) for hull in hulls) < 0.005


def test_a_body_one_percent_too_large_fails_its_girths(finger: Model) -> None:
    larger = Mesh(1.01 * only(finger).vertices, only(finger).faces)
    assert all(not finding.holds for finding in girths(finger.case, finger.body, larger))


def test_a_missing_triangle_and_a_second_body_are_found(finger: Model) -> None:
    mesh = only(finger)
    torn = Mesh(mesh.vertices, mesh.faces[1:])
    twice = Mesh(
        np.vstack([mesh.vertices, mesh.vertices + 0.3]),
        np.vstack([mesh.faces, mesh.faces + len(mesh.vertices)]),
    )
    assert not next(iter(closed("mallet_finger", body_name("mallet_finger"), torn))).holds
    bodies = [
        finding for finding in closed("mallet_finger", body_name("mallet_finger"), twice) if not finding.holds
    ]
    assert len(bodies) == 2  # two bodies, which also share space


def table(top_mm: float) -> Mesh:
    """A square post of 10 x 10 x 20 mm under a square top of 2 mm."""
    post, top = (shapely.box(-half, -half, half, half) for half in (5.0, top_mm / 2.0))
    lifted = placed(extruded(top, 2.0), rigid(np.eye(3), np.array([0.0, 0.0, 20.0])))
    return mesh_of(extruded(post, 20.0) + lifted)


@pytest.mark.parametrize(("top_mm", "verdict"), [(30.0, "watch"), (11.0, "holds"), (10.0, "holds")])
def test_supports_are_what_lies_below_a_table(top_mm: float, verdict: str) -> None:
    (found,) = supported(read_model_case(MODELS / "mallet.toml"), "mallet_finger", table(top_mm))
    below, own = 20.0 * (top_mm**2 - 100.0), 2000.0 + 2.0 * top_mm**2
    assert found.measured == pytest.approx(100.0 * below / own, rel=0.02)
    assert found.verdict == verdict


def test_a_process_without_supports_has_none_to_tell() -> None:
    data = read_toml(MODELS / "mallet.toml")
    case = model_case_from_data(
        {
            **data,
            "print": {**data["print"], "printer": "powder_bed_laser", "material": "pa12_laser_sintering"},
        },
        MODELS / "made.toml",
    )
    assert case.printer.max_overhang_deg is None
    assert list(supported(case, "table", table(30.0))) == []


def test_nail_and_creases_tell_dorsal_from_volar() -> None:
    case = case_with("mallet", teaching_line="none")
    limb = finger_limb(case)
    form = finger_body(case, limb).form
    plain = replace(form, has_details=False)
    marks = limb.landmarks
    nail = np.linspace(marks["nail_fold"] + 1.0, marks["tip"] - 1.0, 200)
    crease = np.linspace(marks["dip_crease"] - 2.0, marks["dip_crease"] + 2.0, 200)
    for stations, side, other in ((nail, 0.0, 0.5), (crease, 0.5, 0.0)):
        on, off = (
            form.distance(points) - plain.distance(points)
            for points in (limb.skin_points(stations, np.full(200, fraction)) for fraction in (side, other))
        )
        assert np.abs(on).max() > 0.35
        assert np.abs(off).max() < 0.02


def test_without_details_the_field_is_nought_on_the_limbs_own_skin() -> None:
    limb = finger_limb(case_with("boutonniere"))
    form = replace(finger_body(case_with("boutonniere"), limb).form, has_details=False)
    skin = limb.skin_mesh().vertices[:-2]
    straight = np.abs(skin[:, 0] - limb.landmarks["pip"]) > 14.0
    assert np.abs(form.distance(skin[straight])).max() < 0.02


@pytest.mark.slow(in_ci=True)
def test_the_left_hand_is_the_mirror_of_the_right_but_for_its_label() -> None:
    data = read_toml(MODELS / "mallet.toml")
    bodies = []
    for side in ("right", "left"):
        case = {
            **data,
            "case": {**data["case"], "side": side},
            "model": {"pose": "mallet", "has_stand": False},
        }
        bodies.append(only(build_model(model_case_from_data(case, MODELS / "x.toml"), quiet)))
    assert np.allclose(mirrored(bodies[0].vertices), bodies[1].vertices)
    assert bodies[1].volume_mm3() == pytest.approx(bodies[0].volume_mm3())


@pytest.mark.slow(in_ci=True)
def test_a_small_print_is_the_same_finger_smaller_by_its_scale() -> None:
    small = build_model(case_with("swan_neck", scale=0.5, socket={"style": "none"}), quiet)
    assert small.holds


def test_a_fillet_moves_nothing_beyond_its_reach() -> None:
    first, second = np.array([0.0, 1.0, 2.0]), np.array([5.0, 1.0, 2.1])
    assert union(first, second, 2.0)[0] == 0.0
    assert union(first, second, 2.0)[1] == pytest.approx(0.5)  # a quarter of the reach where both are equal
    assert intersection(first, second, 2.0)[0] == 5.0


def test_the_surface_of_a_ball_has_its_volume() -> None:
    ball = surface(lambda p: np.linalg.norm(p, axis=1) - 7.0, (-8, -8, -8), (8, 8, 8), 0.25)
    assert ball.volume_mm3() == pytest.approx(4.0 / 3.0 * np.pi * 343.0, rel=1e-3)
    assert as_trimesh(ball).is_volume


@pytest.mark.parametrize(
    ("name", "model", "message"),
    [
        ("mallet", {"pip_flexion_deg": 5.0, "pip_hyperextension_deg": 5.0}, "give one"),
        ("neutral_hand", {"is_jointed": True}, 'only body = "finger" can have hinges'),
        ("swan_neck", {"socket": {"style": "magnet", "depth_mm": 8.0}}, "leaves 2 mm of the stand"),
        ("swan_neck", {"letter_height_mm": 12.0}, "fits the side of the stand"),
        ("swan_neck", {"pose": "swan"}, "accepted is one of"),
    ],
)
def test_impossible_models_are_one_clear_message(name: str, model: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        case_with(name, **model)


@pytest.mark.parametrize("with_orthosis", [False, True])
def test_a_label_that_cannot_be_written_is_refused_before_anything_is_grown(with_orthosis: bool) -> None:
    steps = list[str]()
    with pytest.raises(InputError, match='model.label = "腱鞘"'):
        build_case(case_with("mallet", label="腱鞘"), steps.append, with_orthosis=with_orthosis)
    assert steps == []


def test_a_pair_needs_a_pose_with_an_orthosis_and_full_size() -> None:
    with pytest.raises(InputError, match="no orthosis answers it"):
        pair.build_pair(read_model_case(MODELS / "neutral_hand.toml"), quiet)
    with pytest.raises(InputError, match="only a model of full size"):
        pair.build_pair(case_with("mallet", scale=0.5), quiet)


def test_every_deformity_is_answered_by_one_kind() -> None:
    answers = {pose: [kind.name for kind in KINDS.values() if pose in kind.answers] for pose in POSES}
    assert answers.pop("neutral") == []
    assert answers == {
        "mallet": ["mallet"],
        "swan_neck": ["figure_of_eight"],
        "boutonniere": ["pip_extension"],
        "flexor_repair": ["dorsal_blocking"],
    }


@pytest.mark.slow(in_ci=True)
def test_model_and_orthosis_fit_and_a_finger_too_thick_does_not() -> None:
    case = read_model_case(MODELS / "mallet.toml")
    both = pair.build_pair(case, quiet)
    assert not [finding.key for finding in both.findings if not finding.holds]
    assert len(both.parts) == 2
    orthosis = pair.orthosis_of(case, KINDS["mallet"])
    (part,) = orthosis.parts
    plain = replace(case, model=case.model.model_copy(update={"has_stand": False}))
    body = pair.body_in(plain, orthosis)
    mesh = Mesh(
        apply(body.bed_from_limb() @ body.limb_from_base, body.mesh().vertices),
        body.mesh().faces,
    )
    printed = pair.on_model(case, body, part.shell.mesh)
    assert all(finding.holds for finding in pair.fit(part, printed, mesh))
    thicker = Mesh(
        mesh.vertices * [1.06, 1.06, 1.0], mesh.faces
    )  # 3 percent of 18 mm on each side is 0.54 mm
    assert not next(iter(pair.fit(part, printed, thicker))).holds


@pytest.mark.slow
@pytest.mark.parametrize("name", ["neutral_hand", "flexor_repair"])
def test_a_hand_is_one_closed_body_and_every_check_holds(name: str) -> None:
    hand = build_model(read_model_case(MODELS / f"{name}.toml"), quiet)
    assert not [finding.key for finding in hand.findings if not finding.holds]
    watched = [finding.key for finding in hand.findings if finding.verdict == "watch"]
    assert watched == (
        ["model.supports"] if name == "flexor_repair" else []
    )  # its fingers are bent over the bed
    assert as_trimesh(only(hand)).is_volume


@pytest.mark.slow
def test_a_tape_around_the_knuckles_of_a_flat_hand_reads_the_given_girth() -> None:
    flat = build_model(case_with("neutral_hand", are_fingers_apart=False, mcp_flexion_deg=0.0), quiet)
    around = [finding for finding in flat.findings if ("place", "heads") in finding.about.of]
    assert len(around) == 1
    assert around[0].holds


@pytest.mark.slow
@pytest.mark.parametrize("name", ["swan_neck", "boutonniere", "flexor_repair"])
def test_every_pair_fits(name: str) -> None:
    both = pair.build_pair(read_model_case(MODELS / f"{name}.toml"), quiet)
    assert not [finding.key for finding in both.findings if not finding.holds]
