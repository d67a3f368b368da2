"""What is always said beside a built orthosis; the words lie in the catalogue (`language/`)."""

from typing import TYPE_CHECKING

from print3d.language.catalogue import Language, lines, number, text
from print3d.language.message import Message

if TYPE_CHECKING:  # the help text shows cautions and must not pay for the models
    from print3d.inputs.materials import Material

CAUTIONS = lines("cautions.all")
FRESH_TENDON = text("cautions.fresh_tendon")

WARM_PLACES = (("bath", 40.0), ("car", 50.0), ("tap", 55.0), ("wash", 60.0), ("dashboard", 70.0))
"""Lower end of the heat found there, degrees Celsius. The car: carparteu page; all else from memory."""


def heat_caution(material: "Material", name: Message, language: Language = "en") -> str:
    """Return where an orthosis of this material must not be left, because it would lose its shape there."""
    ceiling = material.heat_ceiling_c.value
    warm = [text(f"cautions.warm.{place}", language) for place, heat in WARM_PLACES if heat >= ceiling]
    key = "cautions.heat" if warm else "cautions.heat_high"
    return text(
        key,
        language,
        material=name.said(language),
        ceiling=number(ceiling, language, decimals=0),
        places=", ".join(warm),
    )
