"""Which joints each kind leaves free and which it stops: what is declared is what the checks sweep, so a joint left out would go unproved."""

import pytest

from print3d.kinds.registry import KINDS
from tests.shaped import shaped

# worked case -> free arcs (the MCPs, PIPs and DIPs of what the kind's page calls free), and joints that are stopped
DECLARED = {
    "mallet": ({"ring.pip": 0.0}, set()),
    "mallet_with_pip_block": ({"middle.pip": 30.0, "middle.mcp": 0.0}, {"middle.pip"}),
    "pip_extension": ({"middle.dip": 0.0, "middle.mcp": 0.0}, set()),
    "figure_of_eight": ({"index.pip": 10.0, "index.dip": 0.0, "index.mcp": 0.0}, {"index.pip"}),
    "relative_motion_extension": ({f"{each}.pip": 0.0 for each in ("index", "middle", "ring", "little")}, set()),
}  # fmt: skip


@pytest.mark.parametrize("name", DECLARED)
def test_a_kind_declares_every_joint_that_it_frees_or_stops(name: str) -> None:
    free, stopped = DECLARED[name]
    orthosis = shaped(name).modelled
    assert {str(arc.joint): arc.from_deg for arc in orthosis.freed} == free
    assert all(arc.to_deg >= 80.0 for arc in orthosis.freed)
    assert {str(stop.joint) for stop in orthosis.stops} == stopped


def test_every_finger_kind_is_in_the_table() -> None:
    assert {shaped(name).modelled.kind for name in DECLARED} == set(KINDS) - {"dorsal_blocking"}
