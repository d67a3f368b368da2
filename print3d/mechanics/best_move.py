"""The small linear program that moves a loose part: which change of place raises its least gap most."""

import threading
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from print3d.geometry.types import Floats
from print3d.limb.joint_id import SegmentName

if TYPE_CHECKING:
    import highspy

SOLVER: dict[str, bool | int | str] = {
    "output_flag": False,
    "threads": 1,
    "solver": "simplex",
    "presolve": "off",
    "simplex_scale_strategy": 0,
}
"""Of a program with four unknowns, all in mm, presolving takes half of the time and scaling a quarter of the rest."""
N_UNKNOWNS = 4
"""Tilt, two shifts and the least gap."""


@dataclass(frozen=True, eq=False)
class MoveLimits:
    """How far a part may be moved at once.

    step_mm : most of tilt and either shift
    slide_mm : (2,) what is left to go along the finger, proximally and distally
    free_mm : with this gap all around the part is free
    """

    step_mm: float
    slide_mm: Floats
    free_mm: float


@dataclass(frozen=True, eq=False)
class Bearings:
    """Points of a loose part near the segments beside its joint.

    least_mm : the least gap of the whole part
    points : (n, 3) in the limb's frame, each near the segment of `segments`
    gaps : (n,); slopes : (n, 3) how they change with tilt and both shifts
    """

    least_mm: float
    segments: tuple[SegmentName, ...]
    points: Floats
    gaps: Floats
    slopes: Floats


def best_move(gap_mm: Floats, slope: Floats, limits: MoveLimits) -> Floats:
    """Return the change of place (3,) that would raise the least gap most if the slopes held.

    gap_mm : (n,)
    slope : (n, 3) per mm of tilt at its lever arm, of shift along and of shift dorsally
    """
    import highspy

    n, step, slide = len(gap_mm), limits.step_mm, limits.slide_mm
    program = highspy.HighsLp()
    program.num_col_, program.num_row_ = N_UNKNOWNS, n
    program.col_cost_ = np.array([0.0, 0.0, 0.0, -1.0])
    program.col_lower_ = np.array([-step, -min(step, slide[0]), -step, -np.inf])
    program.col_upper_ = np.array([step, min(step, slide[1]), step, limits.free_mm])
    program.row_lower_, program.row_upper_ = np.full(n, -np.inf), gap_mm
    program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    program.a_matrix_.start_ = np.arange(0, N_UNKNOWNS * n + 1, N_UNKNOWNS)
    program.a_matrix_.index_ = np.tile(np.arange(N_UNKNOWNS), n)
    program.a_matrix_.value_ = np.column_stack([-slope, np.ones(n)]).ravel()
    solver = _solver_of_this_thread()
    solver.passModel(program)
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        raise RuntimeError(f"linear program of {n} gaps: {solver.getModelStatus().name}")
    return np.array(solver.getSolution().col_value[:3])


_of_thread = threading.local()


def _solver_of_this_thread() -> "highspy.Highs":
    """The thread's own solver, set up once; two threads in one solver crash the process."""
    found: highspy.Highs | None = getattr(_of_thread, "solver", None)
    if found is None:
        found = _of_thread.solver = _quiet_solver()
    return found


def _quiet_solver() -> "highspy.Highs":
    import highspy

    class Quiet(highspy.Highs):
        """A solver without callbacks: it prints a line when it sets them up."""

        def enableCallbacks(self) -> None:  # noqa: N802 (the library's name)
            """Leave them off."""

    solver = Quiet()  # type: ignore[no-untyped-call]
    for name, setting in SOLVER.items():
        solver.setOptionValue(name, setting)
    return solver
