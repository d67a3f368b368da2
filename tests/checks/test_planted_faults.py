"""Every check finds the fault that is planted for it, and the others stay silent.

`rebuilt` puts a fault into a real orthosis: into its finished mesh, its pattern or its trim lines.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.spatial import KDTree

from print3d.checks.gap import measure_gap
from print3d.checks.joints import check_joints
from print3d.checks.limits import limits_of_case
from print3d.checks.marking import letter_tops
from print3d.checks.motion import BISECTIONS, STEP_DEG, sweep
from print3d.checks.suite import run_suite
from print3d.checks.wall import check_wall, measure_thinnest_wall
from print3d.forms.orthosis import FreeArc, Orthosis, Part, ray_views
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import Surface
from print3d.kinds.mallet import kind as mallet
from print3d.kinds.pip_extension import kind as pip_extension
from print3d.limb.joint_id import joints_of
from print3d.limb.limb import moving_segments
from print3d.mechanics.contact import contact_at
from print3d.shell.curves import circle
from print3d.shell.mesh import FaceKind, build_mesh

MCP, PIP, DIP = joints_of("middle")

OPTIONS = {"kind": "pip_extension", "marking": {"style": "none"}}
ASKED_WALL = 2.0


@pytest.fixture(scope="module")
def case(make_case: Callable[..., Any]) -> Any:
    return make_case(OPTIONS)


@pytest.fixture(scope="module")
def orthosis(case: Any) -> Orthosis:
    return pip_extension.KIND.build(case)


def slow(value: str) -> Any:
    """A parameter that is left out of quick runs."""
    return pytest.param(value, marks=pytest.mark.slow)


def with_vertices(orthosis: Orthosis, vertices: np.ndarray) -> Orthosis:
    part = orthosis.parts[0]
    return with_part(
        orthosis, replace(part, shell=replace(part.shell, mesh=Mesh(vertices, part.shell.mesh.faces)))
    )


def with_part(orthosis: Orthosis, part: Part) -> Orthosis:
    return replace(orthosis, parts=(part,))


def as_planned(part: Part, orthosis: Orthosis) -> Part:
    """The part with the gap it has as the gap that was planned, where a fault leaves the faces alone."""
    return replace(part, planned_gap_mm=measure_gap(part, Surface(orthosis.limb.skin_mesh())))


def failing(orthosis: Orthosis, case: Any) -> dict[str, list[str]]:
    """Return what fails by check; how surely it fits other fingers follows from much of it, and has tests of its own."""
    found: dict[str, list[str]] = {}
    for finding in run_suite(orthosis, limits_of_case(case)):
        if not finding.holds and finding.check != "fit":
            found.setdefault(finding.check, []).append(finding.said("en"))
    return found


def test_nothing_is_found_on_a_sound_orthosis(orthosis: Orthosis, case: Any) -> None:
    assert failing(orthosis, case) == {}


def test_a_thin_spot(orthosis: Orthosis, case: Any) -> None:
    """The outer face is pressed towards the inner one over 3 mm, to a wall of 0.8 mm."""
    shell = orthosis.parts[0].shell
    vertices = shell.mesh.vertices.copy()
    inner, outer = vertices[shell.inner_vertices], vertices[shell.outer_vertices]
    rimmed = np.concatenate([rim.ravel() for rim in shell.rims])
    free = ~np.isin(shell.inner_vertices, rimmed)
    clear, _ = KDTree(vertices[rimmed]).query(inner)
    spot = int(np.argmax(np.where(free, clear, 0.0)))
    reach = np.linalg.norm(inner - inner[spot], axis=1)
    press = np.clip(1.0 - reach / 3.0, 0.0, 1.0) ** 0.5 * (reach < 3.0) * free * (1.0 - 0.8 / ASKED_WALL)
    press = np.where(reach < 0.7, 1.0 - 0.8 / ASKED_WALL, press * 0.9)
    vertices[shell.outer_vertices] = outer + press[:, None] * (inner - outer)
    faulty = with_vertices(orthosis, vertices)
    findings = [f for f in run_suite(faulty, limits_of_case(case)) if f.check == "wall"]
    assert min(f.measured for f in findings) == pytest.approx(0.8, abs=0.05)
    assert np.linalg.norm(np.array(findings[0].where) - inner[spot]) < 4.0
    assert set(failing(faulty, case)) == {"wall"}


@pytest.mark.parametrize("number", [40, 300, 600])
def test_a_needle_pit(orthosis: Orthosis, number: int) -> None:
    """One vertex of the outer face stands 0.8 mm above the inner face; samples 0.55 mm apart must still find its tip."""
    shell = orthosis.parts[0].shell
    vertices = shell.mesh.vertices.copy()
    rimmed = np.concatenate([rim.ravel() for rim in shell.rims])
    free = np.flatnonzero(KDTree(vertices[rimmed]).query(vertices[shell.inner_vertices])[0] > 1.5)
    spot = free[number]
    outer, inner = vertices[shell.outer_vertices[spot]], vertices[shell.inner_vertices[spot]]
    vertices[shell.outer_vertices[spot]] = inner + 0.8 * (outer - inner) / np.linalg.norm(outer - inner)
    faces = np.isin(shell.face_kind, (FaceKind.INNER, FaceKind.OUTER))
    thickness, where = measure_thinnest_wall(Surface(Mesh(vertices, shell.mesh.faces)), faces)
    assert thickness == pytest.approx(0.8, abs=0.02)
    assert np.linalg.norm(where - inner) < 1.0


@pytest.mark.parametrize("wall", [1.6, 2.0, 2.6])
def test_the_asked_wall_is_read(make_case: Callable[..., Any], wall: float) -> None:
    case = make_case({"kind": "pip_extension", "form": "sleeve", "wall_mm": wall, "rim_radius_mm": 0.7})
    process, asked = check_wall(pip_extension.KIND.build(case), limits_of_case(case))
    assert process.measured == asked.measured == pytest.approx(wall, abs=0.05)


def test_a_narrow_bridge(orthosis: Orthosis, case: Any) -> None:
    """One more vent, 1.5 mm of material away from its neighbour; rims are made sharper so that it can be meshed."""
    part = orthosis.parts[0]
    definition = replace(part.definition, rim_radius_mm=0.65)
    pip = orthosis.limb.landmarks["pip"]
    neighbour = min(definition.pattern.vents, key=lambda vent: abs(vent.points[:, 0].mean() - pip))
    radius = np.ptp(neighbour.points[:, 0]) / 2
    centre = neighbour.points.mean(axis=0)
    step = np.array([np.sign(pip - centre[0]) * (2 * radius + 1.5), 0.0])
    extra = circle(centre + step, radius, "vent", 0.006)
    pattern = replace(definition.pattern, holes=(*definition.pattern.holes, extra))
    mesh = build_mesh(replace(definition, pattern=pattern))
    faulty = as_planned(
        replace(
            part,
            definition=replace(definition, pattern=pattern),
            shell=mesh,
            planned_gap_mm=np.empty(0),
            skin_vertices=mesh.inner_vertices,
        ),
        orthosis,
    )
    found = failing(with_part(orthosis, faulty), case)
    assert "narrowest bridge" in found.pop("openings")[0]
    assert "sharpest skin-side edge" in found.pop("rims")[0]
    assert found == {}


def test_an_open_edge(orthosis: Orthosis, case: Any) -> None:
    part = orthosis.parts[0]
    shell = part.shell
    mesh = Mesh(shell.mesh.vertices, np.delete(shell.mesh.faces, 500, axis=0))
    faulty = with_part(
        orthosis, replace(part, shell=replace(shell, mesh=mesh, face_kind=np.delete(shell.face_kind, 500)))
    )
    found = failing(faulty, case)
    assert any("edges without" in what for what in found.pop("integrity"))
    assert found == {}


def test_a_second_body_and_an_overlap(orthosis: Orthosis, case: Any) -> None:
    """A copy of the part, moved by 1 mm, overlaps it: each body is closed, so only the winding number tells."""
    part = orthosis.parts[0]
    shell = part.shell
    n = len(shell.mesh.vertices)
    mesh = Mesh(
        np.vstack([shell.mesh.vertices, shell.mesh.vertices + [0.0, 0.0, 1.0]]),
        np.vstack([shell.mesh.faces, shell.mesh.faces + n]),
    )
    doubled = replace(
        shell, mesh=mesh, face_kind=np.concatenate([shell.face_kind, np.full_like(shell.face_kind, 2)])
    )
    found = failing(with_part(orthosis, replace(part, shell=doubled)), case)
    messages = " ".join(found["integrity"])
    assert "separate bodies" in messages
    assert "runs through itself" in messages
    # the two outer faces now lie 1 mm apart, and each body's rims run into the other
    assert set(found) <= {"integrity", "wall", "printability"}


def test_a_crumb_beside_the_part(orthosis: Orthosis, case: Any) -> None:
    """A closed tetrahedron of 1 mm in the air next to the part is a second body with sharp edges, and nothing else."""
    part = orthosis.parts[0]
    shell = part.shell
    n = len(shell.mesh.vertices)
    corners = np.vstack([np.zeros(3), np.eye(3)]) + shell.mesh.vertices.max(axis=0) + 15.0
    faces = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]]) + n
    mesh = Mesh(np.vstack([shell.mesh.vertices, corners]), np.vstack([shell.mesh.faces, faces]))
    kinds = np.concatenate([shell.face_kind, np.full(4, FaceKind.RIM, dtype=np.int8)])
    found = failing(
        with_part(orthosis, replace(part, shell=replace(shell, mesh=mesh, face_kind=kinds))), case
    )
    assert "separate bodies" in found.pop("integrity")[0]
    assert ["sharpest point" in what for what in found.pop("rims")] == [True]
    assert found == {}


@pytest.mark.slow(in_ci=True)
def test_a_body_that_runs_through_itself(orthosis: Orthosis, case: Any) -> None:
    """One end is swung through the other: closed, one body, right openings, but it overlaps."""
    vertices = orthosis.parts[0].shell.mesh.vertices.copy()
    low, high = vertices[:, 0].min(), vertices[:, 0].max()
    share = np.clip((vertices[:, 0] - low) / (high - low) - 0.5, 0.0, 1.0) * 2.0
    vertices[:, 0] -= 1.9 * (high - low) * share**2 * 0.8
    found = failing(with_vertices(orthosis, vertices), case)
    assert any("runs through itself" in what for what in found["integrity"])


@pytest.mark.slow(in_ci=True)
def test_a_letter_that_leans_into_its_neighbour(make_case: Callable[..., Any]) -> None:
    """The tops of one half of the letters are moved along the line: still closed, but two volumes overlap."""
    case = make_case({"kind": "pip_extension", "form": "sleeve"})
    sound = pip_extension.KIND.build(case)
    part = sound.parts[0]
    vertices = part.shell.mesh.vertices.copy()
    tops = np.unique(letter_tops(part))
    along = vertices[tops, 0]
    vertices[tops[along < np.median(along)], 0] += 1.5
    assert failing(sound, case) == {}
    found = failing(with_vertices(sound, vertices), case)
    assert "runs through itself" in found.pop("integrity")[0]
    assert found == {}


def test_a_blocked_joint(make_case: Callable[..., Any], monkeypatch: pytest.MonkeyPatch) -> None:
    """The palm side reaches 9 mm too far towards the DIP, which can then not flex."""
    case = make_case(OPTIONS)
    right = pip_extension._ends  # noqa: SLF001 (the fault is planted there)

    def too_long(*arguments: Any) -> Any:
        proximal, (dorsal, volar) = right(*arguments)
        return proximal, (dorsal, volar + 9.0)

    monkeypatch.setattr(pip_extension, "_ends", too_long)
    found = failing(pip_extension.KIND.build(case), case)
    assert found.pop("motion") == ["DIP free to flex"]
    assert found == {}


def test_a_joint_held_six_degrees_off(orthosis: Orthosis, case: Any) -> None:
    """Built for 0 degrees and asked for 6; the finger is posed as asked, so the gap is off as well."""
    faulty = replace(orthosis, held={PIP: 6.0})
    found = failing(faulty, case)
    assert "PIP flexion held" in found.pop("joints")[0]
    assert found == {}


@pytest.mark.parametrize("pip", [0.0, 12.0, 35.0])
def test_the_held_angle_is_measured_again(make_case: Callable[..., Any], pip: float) -> None:
    case = make_case({"kind": "pip_extension", "pip_flexion_deg": pip})
    (held,) = check_joints(pip_extension.KIND.build(case), limits_of_case(case))
    assert held.measured == pytest.approx(pip, abs=0.3)


def test_a_shell_inside_the_skin(orthosis: Orthosis, case: Any) -> None:
    vertices = orthosis.parts[0].shell.mesh.vertices + np.array([0.0, 0.0, 0.9])
    found = failing(with_vertices(orthosis, vertices), case)
    assert any("least gap" in what for what in found["gap"])
    assert set(found) == {"gap"}


def test_sharp_rims(orthosis: Orthosis, case: Any) -> None:
    part = orthosis.parts[0]
    definition = replace(part.definition, rim_radius_mm=0.3)
    mesh = build_mesh(definition)
    sharp = as_planned(
        replace(part, definition=definition, shell=mesh, skin_vertices=mesh.inner_vertices), orthosis
    )
    found = failing(with_part(orthosis, sharp), case)
    assert "sharpest" in found.pop("rims")[0]
    assert found == {}


def test_letters_too_small(make_case: Callable[..., Any]) -> None:
    case = make_case({"kind": "pip_extension", "marking": {"letter_height_mm": 2.0, "depth_mm": 0.2}})
    found = failing(pip_extension.KIND.build(case), case)
    assert set(found) == {"marking"}
    assert len(found["marking"]) >= 2


def test_a_free_joint_is_swept_to_the_end_it_is_asked_for(orthosis: Orthosis, case: Any) -> None:
    """A DIP that must reach 150 degrees, further than any finger, does not."""
    found = failing(replace(orthosis, freed=(FreeArc(DIP, 0.0, 150.0),)), case)
    assert set(found) == {"motion"}


def test_softer_tissue_lets_a_blocked_joint_go_further(orthosis: Orthosis) -> None:
    """The free angle grows with the squeeze; without any it is the rigid finger's, whatever the squeeze asked about."""
    arc = FreeArc(DIP, 0.0, 150.0)
    found = [
        sweep(contact_at(ray_views(orthosis)[0], orthosis, DIP), arc, compression)
        for compression in (0.0, 0.5, 1.0, 2.0)
    ]
    free = [each.free_to_deg for each in found]
    assert free == sorted(free)
    assert free[0] < free[-1] < 150.0
    (rigid,) = {each.rigid_free_to_deg for each in found}
    assert rigid == pytest.approx(free[0], abs=STEP_DEG / 2**BISECTIONS)


def test_the_hand_moves_with_the_proximal_segment(orthosis: Orthosis) -> None:
    (view,) = ray_views(orthosis)
    assert moving_segments(view.chain, "middle", PIP) == ("proximal", "hand")
    assert moving_segments(view.chain, "middle", MCP) == ("hand",)
    assert moving_segments(view.chain, "middle", DIP) == ("distal",)
    assert moving_segments(view.chain, "proximal", PIP) == ("middle", "distal")


@pytest.mark.slow(in_ci=True)
def test_hyperextension_that_blanches_the_skin(make_case: Callable[..., Any]) -> None:
    """Rayan and Mullins 1987: the skin over the DIP blanched on average at half of the passive hyperextension."""
    finger = {"pip_girth_mm": 66.0, "dip_girth_mm": 56.0, "dip_passive_hyperextension_deg": 10.0}
    measured = {"sex": "man", "hand_length_mm": 193.0, "middle": finger}
    options = {"kind": "mallet", "marking": {"style": "none"}}
    for asked, expected in ((3.0, set()), (9.0, {"joints"})):
        case = make_case({**options, "dip_hyperextension_deg": asked}, measured=measured)
        assert set(failing(mallet.KIND.build(case), case)) == expected


def test_relief_lifts_a_dorsal_shell_over_the_pip_and_keeps_vents_away(make_case: Callable[..., Any]) -> None:
    case = make_case({"kind": "pip_extension", "form": "dorsal", "marking": {"style": "none"}})
    built = pip_extension.KIND.build(case)
    part, pip = built.parts[0], built.limb.landmarks["pip"]
    gap = measure_gap(part, Surface(built.limb.skin_mesh()))
    over = np.hypot(part.shell.pattern_points[:, 0] - pip, part.shell.pattern_points[:, 1]) < 1.0
    assert gap[over].min() > 0.5 + 0.9
    centres = np.array([vent.points.mean(axis=0) for vent in part.definition.pattern.vents])
    assert np.hypot(centres[:, 0] - pip, centres[:, 1]).min() > 4.0


@pytest.mark.parametrize("form", ["volar", "dorsal", "sleeve"])
@pytest.mark.parametrize("kind", ["mallet", "pip_extension"])
@pytest.mark.parametrize("finger", [slow("index"), slow("middle"), slow("ring"), "little"])
def test_every_form_on_every_finger_is_sound(
    make_case: Callable[..., Any], kind: str, form: str, finger: str
) -> None:
    head: dict[str, Any] = {"code": "PY-001", "side": "right", "finger": finger}
    girths = {"index": (64.0, 54.0), "middle": (66.0, 56.0), "ring": (61.0, 51.0), "little": (54.0, 46.0)}[
        finger
    ]
    measured = {
        "hand_length_mm": 190.0,
        finger: dict(zip(("pip_girth_mm", "dip_girth_mm"), girths, strict=True)),
    }
    options = {"kind": kind, "form": form, "vents": {"diameter_mm": 2.4}, "marking": {"style": "none"}}
    if finger == "little" or (form == "dorsal" and kind == "mallet"):
        options["straps"] = {"style": "wrap"}
    if finger == "little" and kind == "pip_extension":
        # on short levers a PIP held day and night presses with 9 to 12 kPa, which skin bears in spells alone
        options["wear_hours_at_once"] = 1.5
        head["protected"] = False
    case = make_case(options, case=head, measured=measured)
    assert failing({"mallet": mallet, "pip_extension": pip_extension}[kind].KIND.build(case), case) == {}


def test_vents_that_do_not_fit_are_a_finding(make_case: Callable[..., Any]) -> None:
    """Asked vents of 9 mm on a finger: the gutter is made without, and the openings check says so."""
    case = make_case({"kind": "pip_extension", "vents": {"diameter_mm": 9.0}})
    found = failing(pip_extension.KIND.build(case), case)
    assert set(found) == {"openings"}
