"""What is always said beside a built orthosis, in one place."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:  # the help text shows cautions and must not pay for the models
    from print3d.inputs.materials import Material

CAUTIONS = (
    "This is software output, not a medical device by itself: the prescriber's protocol, a licensed hand therapist "
    "and local rules decide whether and how it is worn.",
    "A recent or repaired tendon belongs with a hand therapist from the first day; do not fit one alone.",
    "At every fitting check skin, circulation and sensation; pain, numbness, colour change, or marks that stay "
    "longer than 20 minutes: take it off and ask.",
)
"""The 20 minutes are common practice, no single source."""

WARM_PLACES = (
    (40.0, "a hot bath (40)"),
    (50.0, "a car in the sun (50 and more)"),
    (55.0, "hot tap water (55 to 60)"),
    (60.0, "a warm wash (60)"),
    (70.0, "a dashboard (70 to 85)"),
)
"""Lower end of the heat found there, degrees Celsius. The car: carparteu page; all else from memory."""


def heat_caution(material: "Material") -> str:
    """Return where an orthosis of this material must not be left, because it would lose its shape there."""
    ceiling = material.heat_ceiling_c.value
    warm = [place for heat, place in WARM_PLACES if heat >= ceiling]
    away = (
        f"keep it away from {', '.join(warm)} and radiators" if warm else "boiling water and ovens reach that"
    )
    return f"{material.title} loses its shape above {ceiling:g} degrees Celsius: {away}."
