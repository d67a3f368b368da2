"""What is always said beside a built orthosis, in English; the words lie in the catalogue (`texts/`)."""

from print3d.texts.catalogue import lines, text

CAUTIONS = lines("cautions.all")
FRESH_TENDON = text("cautions.fresh_tendon")
