"""What the page's viewer is given.

It gets light meshes with their maps, the limb at rest and in pieces, and the joints.

A page draws these; every number in words comes from the checks on the full mesh.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from print3d.built import Built
from print3d.checks.finding import Finding, Sense
from print3d.checks.pressure import PressedSkin
from print3d.checks.stiffness import StressField
from print3d.forms.orthosis import Orthosis, ray_views
from print3d.forms.straps import Strapping, strapping_of, straps_of
from print3d.geometry.mesh import Mesh, joined
from print3d.geometry.mirror import Side, mirror_for_side
from print3d.geometry.nearest import Surface
from print3d.geometry.types import Floats
from print3d.limb.skin_marks import skin_marks
from print3d.mechanics.contact_patches import Patches
from print3d.output.mesh.thinning import thinned, thinned_tube
from print3d.output.pictures.colour_scale import even_range, range_from_nought, range_to
from print3d.output.pictures.fields import gap_at, wall_at
from print3d.output.pictures.joint_chain import (
    Drift,
    FreeJoint,
    chain_of,
    drift_of,
    hinges,
    part_chain,
    segment_bodies,
)

MOST_FACES = 80_000
"""Of all parts together on a page: within 0.11 mm of the full mesh on a forearm shell of 284,000 (measured)."""
LIMB_EVERY = 2
"""Every second row and point of the limb: facets then lie within 0.04 mm of its skin."""
MAPS = ("pressure", "wall", "gap", "stress", "displacement")
ON_SKIN = "pressure"
"""The map that lies on the limb; the others lie on the orthosis."""
BESIDE_MM = 2.5
"""Skin that is no farther from a patch that presses shows its pressure: patches lie a clearance off, and up to 5 mm apart on a hand; own
choice."""
Effort = Mapping[str, Sequence[StressField]]
Pressed = Sequence[PressedSkin]


@dataclass(frozen=True, eq=False)
class SceneBody:
    """A mesh of the scene, for the hand of the case.

    role : "part"; "strap"; "skin" is the limb at rest; "segment" a rigid piece shown once a joint is moved; "still" limb that never moves;
        "mark" a nail or crease on the limb, `name` says which
    chain : keys of the joints that move it
    fields : map -> value (vertices,) in the unit of its scale, not a number where there is none
    """

    name: str
    role: str
    mesh: Mesh
    chain: tuple[str, ...] = ()
    fields: Mapping[str, Floats] = field(default_factory=dict)
    drift: Drift | None = None


@dataclass(frozen=True)
class Scale:
    """The ends of a map's colour scale, what is allowed, and how its values are written.

    limit : in `unit`, the least or the most allowed as `sense` says; None where nothing is limited
    decimals : of a value in words, and to which values are rounded on a page
    stops : hex colours, lowest value first, where they are not those of `colour_scale.HEX`
    """

    low: float
    high: float
    limit: float | None = None
    sense: Sense = "at least"
    unit: str = "mm"
    decimals: int = 2
    stops: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Scene:
    """Everything that is drawn.

    look : the side from which it is looked at first
    """

    side: Side
    look: str
    bodies: tuple[SceneBody, ...]
    hinges: tuple[FreeJoint, ...]
    scales: Mapping[str, Scale]

    def of_role(self, *roles: str) -> list[SceneBody]:
        """Return the bodies of some roles."""
        return [body for body in self.bodies if body.role in roles]


def build_scene(
    built: Built, effort: Effort | None = None, pressed: Pressed = (), *, most_faces: int = MOST_FACES
) -> Scene:
    """Return the scene of a built orthosis.

    pressed : what `pressure.pressed_at_rest` says; without it there is no map of the pressure on the skin
    effort : what `stiffness.shown_in_effort` says of each joint; without it there are no maps of stress and displacement
    most_faces : of all parts together
    """
    orthosis, findings, side = built.modelled, built.findings, built.side
    limb = [_with_pressure(each, pressed) for each in _limb(orthosis)]
    beside = [*_straps(orthosis, strapping_of(built.case.orthosis.straps)), *_marks(orthosis)]
    bodies = [*_parts(orthosis, effort or {}, most_faces), *limb, *beside]
    for_hand = tuple(replace(each, mesh=mirror_for_side(each.mesh, side)) for each in bodies)
    chosen = tuple(each.for_side(side) for each in hinges(orthosis, findings))
    scales = {
        name: _scale(name, bodies, findings) for name in MAPS if any(name in body.fields for body in bodies)
    }
    if ON_SKIN in scales:
        most = max(float(each.kpa.max()) for each in pressed)
        scales[ON_SKIN] = Scale(*range_to(most), unit="kPa", decimals=1)
    look = "dorsal" if orthosis.differences else "radial"
    return Scene(side, look, for_hand, chosen, scales)


def _parts(orthosis: Orthosis, effort: Effort, most_faces: int) -> list[SceneBody]:
    skin = Surface(orthosis.limb.skin_mesh())
    total = sum(len(part.shell.mesh.faces) for part in orthosis.parts)
    bodies = []
    for number, part in enumerate(orthosis.parts):
        full = part.shell.mesh
        mesh = thinned(full, int(most_faces * len(full.faces) / max(total, most_faces)))
        maps = {
            "wall": wall_at(part, mesh.vertices),
            "gap": gap_at(part, skin, mesh.vertices),
            **_in_effort(full, mesh.vertices, [shown[number] for shown in effort.values()]),
        }
        bodies.append(
            SceneBody(part.name, "part", mesh, part_chain(orthosis, part), maps, drift_of(orthosis, part))
        )
    return bodies


def _in_effort(full: Mesh, points: Floats, shown: Sequence[StressField]) -> dict[str, Floats]:
    """The largest stress (MPa) and displacement (mm) beside points (n, 3) of a part.

    The largest is taken over all joints in effort.
    """
    if not shown:
        return {}
    _, nearest = KDTree(full.vertices).query(points)
    stress = np.max([each.von_mises_mpa for each in shown], axis=0)
    moved = np.max([np.linalg.norm(each.displacement, axis=1) for each in shown], axis=0)
    return {"stress": stress[nearest], "displacement": moved[nearest]}


def _limb(orthosis: Orthosis) -> list[SceneBody]:
    """The skin at rest; and where joints are free, the pieces that are shown once one moves."""
    skin = [(each.ray, thinned_tube(each.mesh, LIMB_EVERY)) for each in orthosis.limb.skin_bodies()]
    if not orthosis.freed:
        return [SceneBody("limb", "still", joined([mesh for _, mesh in skin]))]
    segments = [
        SceneBody("limb", "segment", thinned_tube(mesh, LIMB_EVERY), chain) for mesh, chain in segment_bodies(orthosis)
    ]  # fmt: skip
    moving, still = ([mesh for ray, mesh in skin if (ray is None) == is_still] for is_still in (False, True))
    return [
        SceneBody("limb", "skin", joined(moving)),
        *segments,
        *([SceneBody("limb", "still", joined(still))] if still else []),
    ]


def _straps(orthosis: Orthosis, strapping: Strapping) -> Iterator[SceneBody]:
    """Straps, each with its part."""
    parts = {part.name: part for part in orthosis.parts}
    for strap in straps_of(orthosis, strapping):
        yield SceneBody(strap.place, "strap", strap.body, part_chain(orthosis, parts[strap.part]))


def _marks(orthosis: Orthosis) -> Iterator[SceneBody]:
    """Nails and creases: those of one sort that move together as one body."""
    views = {view.ray: view for view in ray_views(orthosis)}
    together: dict[tuple[str, tuple[str, ...]], list[Mesh]] = {}
    for mark in skin_marks(orthosis.limb):
        view = views.get(mark.ray) if mark.ray is not None else None
        chain: tuple[str, ...] = ()
        if view is not None and mark.segment is not None and view.freed:
            chain = chain_of(view, mark.segment)
        together.setdefault((mark.sort, chain), []).append(mark.mesh)
    for (sort, chain), meshes in together.items():
        yield SceneBody(sort, "mark", joined(meshes), chain)


def _with_pressure(body: SceneBody, pressed: Pressed) -> SceneBody:
    """The limb with the largest pressure of all joints; what moves with a joint has none."""
    if not pressed or body.role == "segment":
        return body
    shown = np.full(len(body.mesh.vertices), np.nan)
    for each in pressed:
        patches, is_shell = each.patches, each.patches.strap < 0
        away, nearest = KDTree(patches.points[is_shell]).query(
            body.mesh.vertices, distance_upper_bound=BESIDE_MM
        )
        near = np.isfinite(away)
        shown[near] = np.fmax(shown[near], each.kpa[is_shell][nearest[near]])
        for strip in np.flatnonzero(~is_shell):
            under = _under_strip(patches, int(strip), body.mesh.vertices)
            shown[under] = np.fmax(shown[under], each.kpa[strip])
    return replace(body, fields={ON_SKIN: shown})


def _under_strip(patches: Patches, strip: int, points: Floats) -> NDArray[np.bool_]:
    """Which points (n,) of the skin lie under a strip of a strap, on its own side of the limb."""
    mine = patches.points[patches.strap == patches.strap[strip]]
    middle, out = patches.points[strip], patches.normals[strip]
    whole = mine[-1] - mine[0]
    width = float(np.linalg.norm(whole)) / (len(mine) - 1)
    along = whole / np.linalg.norm(whole)
    breadth = float(patches.areas[strip]) / width
    arm = points - middle
    return (
        (np.abs(arm @ along) <= width / 2.0)
        & (np.abs(arm @ np.cross(along, out)) <= breadth / 2.0)
        & (arm @ out >= 0.0)
    )


def _scale(name: str, bodies: Sequence[SceneBody], findings: Sequence[Finding]) -> Scale:
    values = np.concatenate([body.fields[name] for body in bodies if name in body.fields])
    if name == "stress":
        limits = [float(each.limit) for each in findings
                  if each.check == "stiffness" and each.unit == "MPa" and not isinstance(each.limit, tuple)]  # fmt: skip
        most = max(
            (each.measured for each in findings if each.check == "stiffness" and each.unit == "MPa"),
            default=0.0,
        )
        return Scale(*range_from_nought(values, most), min(limits, default=None), "at most", "MPa")
    if name == "displacement":
        return Scale(*range_from_nought(values), decimals=3)
    told = [each for each in findings if each.check == name and each.sense == "at least"]
    limits = [each.limit for each in told if isinstance(each.limit, float)]
    least = min((each.measured for each in told), default=None)
    low, high = even_range(values, least_span=1.0, anchor=0.0 if name == "gap" else None, reported=least)
    return Scale(low, high, min(limits, default=None))
