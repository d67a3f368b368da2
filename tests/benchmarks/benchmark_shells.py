"""Our mesh against the CAD kernel, on one shape and in one run (ratios: machines are noisy).

    python tests/benchmarks/benchmark_shells.py

Compared: the mesh from the pattern; tessellating the sewn solid; the plain CAD way of loft, offset and boolean vents.
Printed as well: how far the middles of large facets lie from the true surface (both were asked for 0.006 mm), how the mesh's
time grows with the number of vents and with the area. `benchmark_all.py` has the worked cases.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cadquery as cq
import numpy as np
import shapely
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools

from print3d.geometry.spline import fit_surface
from print3d.shell.curves import loop_of, rounded
from print3d.shell.definition import ShellDefinition
from print3d.shell.mesh import build_mesh
from print3d.shell.pattern import Pattern
from print3d.shell.solid import build_solid
from print3d.shell.vents import VentGrid, place_vents

CASES = Path(__file__).parents[2] / "params" / "cases"
WALL, CLEARANCE, TAPER = 2.0, 0.5, 0.02


@dataclass(frozen=True)
class Size:
    """A tapered half tube: radius at the wide end, length, and how many vents are asked."""

    radius: float
    length: float
    n_vents: int


def surface(size: Size, offset: float) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    def points(along: np.ndarray, around: np.ndarray) -> np.ndarray:
        radius = size.radius - TAPER * along + offset
        return np.column_stack(
            [along, radius * np.sin(around / size.radius), radius * np.cos(around / size.radius)]
        )

    return points


def shell(size: Size) -> ShellDefinition:
    half = size.radius * np.pi / 2
    sites = np.linspace(-1, size.length + 1, 14), np.linspace(-half - 1, half + 1, 10)
    inner, outer = (fit_surface(surface(size, offset), *sites) for offset in (CLEARANCE, CLEARANCE + WALL))
    outline = loop_of(rounded(shapely.box(0, -half, size.length, half), 4.0), "outline", 0.4)
    allowed = shapely.box(4, -half + 4, size.length - 4, half - 4)
    pitch = 5.2
    vents = place_vents(VentGrid("hexagonal", 2.4, pitch), allowed)[: size.n_vents]
    return ShellDefinition(Pattern((outline,), vents), inner, outer, WALL, 0.9)


def plain(size: Size, n_cut: int) -> cq.Shape:
    """Loft of half rings, vents cut as cylinders."""
    profiles = []
    for x in (0.0, size.length / 2, size.length):
        inner = size.radius - TAPER * x + CLEARANCE
        outer = inner + WALL
        profiles.append(
            cq.Workplane("YZ", origin=(x, 0, 0))
            .moveTo(-outer, 0).threePointArc((0, outer), (outer, 0)).lineTo(inner, 0)
            .threePointArc((0, inner), (-inner, 0)).close().wire().val()
        )  # fmt: skip
    body: cq.Shape = cq.Solid.makeLoft(profiles, False)
    drills = []
    for vent in shell(size).pattern.vents[:n_cut]:
        along, around = vent.points.mean(axis=0)
        angle = around / size.radius
        outward = cq.Vector(0, np.sin(angle), np.cos(angle))
        drills.append(
            cq.Solid.makeCylinder(
                1.2, 4 * WALL, cq.Vector(along, 0, 0) + outward * (size.radius - 2), outward
            )
        )
    return body.cut(*drills) if drills else body


def seconds(action: Callable[[], object], repeats: int = 3) -> float:
    """Least CPU seconds of a few runs: what the others add is the machine's noise."""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        action()
        times.append(time.process_time() - start)
    return min(times)


def tessellate(solid: cq.Shape, deflection_mm: float = 0.006) -> None:
    BRepTools.Clean_s(solid.wrapped)
    BRepMesh_IncrementalMesh(solid.wrapped, deflection_mm, False, 0.3, False)


def farthest_facet_mesh(definition: ShellDefinition) -> float:
    """Largest distance (mm) from a facet's middle to the point of the inner face over the same pattern point."""
    made = build_mesh(definition)
    middles = made.mesh.vertices[made.inner_vertices[made.flat_faces]].mean(axis=1)
    at = made.pattern_points[made.flat_faces].mean(axis=1)
    return float(np.linalg.norm(middles - definition.inner.points(*at.T), axis=1).max())


def farthest_facet_cad(solid: cq.Shape, n_largest: int = 100) -> float:
    """Largest distance (mm) from the middle of one of the largest facets of each face to that face."""
    farthest = 0.0
    for face in sorted(solid.Faces(), key=lambda face: -face.Area())[:2]:
        points, triangles = face.tessellate(0.006, 0.3)
        corners = np.array([point.toTuple() for point in points])[np.array(triangles)]
        areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
        for middle in corners[np.argsort(areas)[-n_largest:]].mean(axis=1):
            farthest = max(farthest, cq.Vertex.makeVertex(*middle).distance(face))
    return farthest


def growth(sizes: list[Size], measure: Callable[[Size], float]) -> float:
    """Exponent of the mesh's time over a measure of size."""
    definitions = [shell(size) for size in sizes]
    times = [seconds(lambda d=d: build_mesh(d), 7) for d in definitions]
    return float(np.polyfit(np.log([measure(size) for size in sizes]), np.log(times), 1)[0])


def main() -> None:
    size = Size(9.5, 60.0, 45)
    definition = shell(size)
    build_mesh(definition)
    mesh = seconds(lambda: build_mesh(definition), 5)
    sew = seconds(lambda: build_solid(definition), 1)
    solid = build_solid(definition)
    tessellation = seconds(lambda: tessellate(solid), 1)
    n_cut = len(definition.pattern.vents)
    cut = seconds(lambda: plain(size, n_cut), 1)
    print(
        f"finger gutter {size.length:g} mm, {n_cut} vents, {len(build_mesh(definition).mesh.faces)} triangles"
    )
    print("                                  CPU    ratio   farthest facet")
    print(f"mesh from the pattern        {mesh:8.3f} s      1   {farthest_facet_mesh(definition):8.3f} mm")
    print(f"sewing the solid             {sew:8.3f} s {sew / mesh:6.0f}")
    print(
        f"tessellating the sewn solid  {tessellation:8.3f} s {tessellation / mesh:6.0f}   {farthest_facet_cad(solid):8.3f} mm"
        "   ratio: target at least 30"
    )
    print(f"loft and boolean vents       {cut:8.3f} s {cut / mesh:6.0f}")
    by_vents = growth([Size(40.0, 200.0, n) for n in (60, 240, 900)], lambda s: s.n_vents)
    by_area = growth(
        [Size(10.0 * k, 60.0 * k, 10_000) for k in (1.0, 1.4, 2.0)], lambda s: s.radius * s.length
    )
    print(f"growth exponent with vents   {by_vents:8.2f}          target at most 1.1")
    print(f"growth exponent with area    {by_area:8.2f}          target at most 1.1")


if __name__ == "__main__":
    main()
