"""Linear elastic finite elements on the wedges of a shell, by NGSolve.

They give displacements and stresses of a body under balanced forces.
Second-order elements, one through the wall: they bend without locking (first-order ones do not). Nothing is clamped: an
orthosis lies loose on a limb, and its forces balance; a faint spring everywhere takes up what rounding leaves.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from print3d.geometry.types import Floats
from print3d.mechanics.wedges import Wedges

Bools = NDArray[np.bool_]

POISSON = 0.35
"""Of printed plastics; 0.33 to 0.40 for PLA, PETG and PA12, from memory."""
FAINT = 1e-9
"""The spring that holds a loose body, as a share of the modulus, per mm2: it takes less than a millionth of a finger shell's loads."""
SAME_DECIMALS = 7
"""The solver adds in another order each time; these decimals (MPa, N mm) are the same from run to run."""
CORNERS = [
    (1.0, 0.0, 0.0),
    (0.0, 1.0, 0.0),
    (0.0, 0.0, 0.0),
    (1.0, 0.0, 1.0),
    (0.0, 1.0, 1.0),
    (0.0, 0.0, 1.0),
]
"""Corners of the reference wedge, in the order of an element's points."""
NEAR = 1.0 / 6.0
"""Gauss points of a triangle lie at this share towards two of its corners,"""
FAR = 2.0 / 3.0
"""and at this share towards the third."""
INNER = [(x, y, z) for z in (0.0, 1.0) for x, y in ((FAR, NEAR), (NEAR, FAR), (NEAR, NEAR))]
"""Places on both faces of the reference wedge, each beside one corner, at the Gauss points of the triangle: along the wall
the stresses of second-order elements are most accurate there (Barlow 1976, Int J Numer Methods Eng 10:243, from memory)."""


@dataclass(frozen=True, eq=False)
class ElasticSolution:
    """How a body answers one set of forces.

    displacement : (n, 3) mm at the wedges' points
    von_mises_mpa : (n,) there, of the mean stress of the elements that meet
    highest_mpa : (n,) there, the highest of the elements that meet
    work_n_mm : forces times displacements
    """

    displacement: Floats
    von_mises_mpa: Floats
    highest_mpa: Floats
    work_n_mm: float

    @property
    def peak_mpa(self) -> float:
        """The largest stress, of single elements.

        At a notch their mean comes out too low on wedges as wide as it.
        """
        return float(self.highest_mpa.max())

    @property
    def peak_at(self) -> int:
        """Number of the point where it is."""
        return int(np.argmax(self.highest_mpa))


class ElasticBody:
    """A body that is assembled and factorised once and then loaded any number of times."""

    def __init__(self, wedges: Wedges, modulus_mpa: float, poisson: float = POISSON, order: int = 2) -> None:
        import ngsolve as ng

        self.wedges = wedges
        self._mesh = _netgen_mesh(wedges)
        # one unknown of three numbers a node: factorised in blocks, which takes less than half of the time
        self._space = ng.H1(self._mesh, order=order, dim=3)
        self._laws = (
            modulus_mpa / (2.0 * (1.0 + poisson)),
            modulus_mpa * poisson / ((1.0 + poisson) * (1.0 - 2.0 * poisson)),
        )
        u, v = self._space.TnT()
        form = ng.BilinearForm(self._space, symmetric=True)
        shear, bulk = self._laws
        by_u, by_v = ng.Grad(u), ng.Grad(v)
        form += shear * ng.InnerProduct(by_u + by_u.trans, by_v) * ng.dx
        form += bulk * ng.Trace(by_u) * ng.Trace(by_v) * ng.dx
        form += FAINT * modulus_mpa * ng.InnerProduct(u, v) * ng.dx
        form.Assemble()
        self._inverse = form.mat.Inverse(inverse="sparsecholesky")

    def under(
        self, forces: Floats, taken_by: Bools | None = None, ties: Sequence[Floats] = ()
    ) -> ElasticSolution:
        """Return the answer to forces (2 n, 3) N at the wedges' points.

        taken_by : (2 n,) the points that take up what is out of balance, such as screw holes; None are all, which is how friction
            takes up the little that bearing forces leave
        ties : forces (2 n, 3) of 1 N that pull two places apart, which a strap that does not stretch holds together
        """
        points = self.wedges.points
        forces = balanced(points, forces, taken_by)
        pulls = [balanced(points, tie) for tie in ties]
        answer, moved = self._solved(forces)
        tied = [(pull, *self._solved(pull)) for pull in pulls]
        taut = list(range(len(tied)))
        while taut:  # a strap pulls but does not push
            gaps = np.array([np.vdot(tied[k][0], moved) for k in taut])
            give = np.array([[np.vdot(tied[k][0], tied[m][2]) for m in taut] for k in taut])
            tension = np.linalg.solve(give, gaps)
            if (tension >= 0.0).all():
                for k, newtons in zip(taut, tension, strict=True):
                    answer.vec.data -= float(newtons) * tied[k][1].vec
                    moved = moved - newtons * tied[k][2]
                break
            taut = [k for k, newtons in zip(taut, tension, strict=True) if newtons > 0.0]
        mean, highest = self._von_mises(answer)
        return ElasticSolution(moved, mean, highest, round(float(np.vdot(forces, moved)), SAME_DECIMALS))

    def _solved(self, forces: Floats) -> tuple[Any, Floats]:
        """The answer to balanced forces, whole and at the wedges' points (2 n, 3)."""
        import ngsolve as ng

        answer = ng.GridFunction(self._space)
        right = answer.vec.CreateVector()
        right.FV().NumPy()[:] = 0.0
        right.FV().NumPy().reshape(-1, 3)[: len(forces)] = (
            forces  # at corners they act on the corners' own functions alone
        )
        answer.vec.data = self._inverse * right
        return answer, answer.vec.FV().NumPy().reshape(-1, 3)[: len(forces)].copy()

    def _stress(self, moved: Any) -> Any:
        import ngsolve as ng

        shear, bulk = self._laws
        strain = ng.Sym(ng.Grad(moved))
        return 2.0 * shear * strain + bulk * ng.Trace(strain) * ng.Id(3)

    def _von_mises(self, answer: Any) -> tuple[Floats, Floats]:
        """Von Mises stress (n,) of the mean of the elements that meet at each point, and the highest of them."""
        import ngsolve as ng

        rule = ng.IntegrationRule(INNER, [1.0 / len(INNER)] * len(INNER))
        inner = self._stress(answer)(self._mesh.MapToAllElements(rule, ng.VOL)).reshape(-1, len(INNER), 9)
        to_corners = _corner_shares(CORNERS) @ np.linalg.inv(_corner_shares(INNER))
        at_corners = np.einsum("ij,ejk->eik", to_corners, inner).reshape(-1, 9)
        owners = self.wedges.elements.ravel()
        total = np.zeros((len(self.wedges.points), 9))
        np.add.at(total, owners, at_corners)
        mean = _von_mises(total / np.bincount(owners, minlength=len(total))[:, None])
        highest = np.zeros(len(total))
        np.maximum.at(highest, owners, _von_mises(at_corners))
        return np.round(mean, SAME_DECIMALS), np.round(highest, SAME_DECIMALS)


def _corner_shares(places: list[tuple[float, float, float]]) -> Floats:
    """Shares (k, 6) of the corners of the reference wedge in what is linear in it, at places in it."""
    x, y, z = np.array(places).T
    across = np.column_stack([x, y, 1.0 - x - y])
    return np.hstack([across * (1.0 - z)[:, None], across * z[:, None]])


def _von_mises(stress: Floats) -> Floats:
    """Von Mises stress (n,) of stress tensors (n, 9)."""
    deviator = stress - stress[:, [0, 4, 8]].mean(axis=1)[:, None] * np.eye(3).ravel()
    return np.asarray(np.sqrt(1.5 * np.einsum("ij,ij->i", deviator, deviator)))


def balanced(points: Floats, forces: Floats, taken_by: Bools | None = None) -> Floats:
    """Return forces (n, 3) on points (n, 3), changed so that they leave no resultant and no moment.

    The change is the smallest, at some of the points or all.
    """
    modes = _rigid_modes(points)
    there = modes if taken_by is None else modes * np.repeat(taken_by, 3)[:, None]
    excess = modes.T @ forces.ravel()
    return forces - (there @ np.linalg.lstsq(there.T @ there, excess, rcond=None)[0]).reshape(-1, 3)


def _rigid_modes(points: Floats) -> Floats:
    """The six rigid motions (3 n, 6) of points."""
    centred = points - points.mean(axis=0)
    shifts = np.tile(np.eye(3), (len(points), 1))
    turns = [np.cross(axis, centred).ravel() for axis in np.eye(3)]
    return np.column_stack([shifts, *turns])


def _netgen_mesh(wedges: Wedges) -> Any:
    """The wedges as a mesh of NGSolve, in the same order."""
    import ngsolve as ng
    from netgen import meshing

    mesh = meshing.Mesh(dim=3)
    mesh.AddPoints(np.ascontiguousarray(wedges.points))
    mesh.Add(meshing.FaceDescriptor(surfnr=1, domin=1, domout=0, bc=1))
    mesh.AddElements(dim=3, index=1, data=wedges.elements.astype(np.int32), base=0)
    return ng.Mesh(mesh)
