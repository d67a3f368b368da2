"""A toy: how bulky the printed parts are together."""

from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis
from print3d.language.message import message

ORDER = 75
"""Its place among the findings."""

LARGEST_CM3 = 1.0
"""More is in the way."""


def check_heft(orthosis: Orthosis, _limits: CheckLimits) -> list[Finding]:
    """Check that the parts together are not too bulky to forget."""
    volume = sum(part.shell.mesh.volume_mm3() for part in orthosis.parts)
    return [
        Finding(
            "heft.volume", volume / 1000.0, LARGEST_CM3, "cm3", "at most", message("checks.heft.own_choice")
        )
    ]
