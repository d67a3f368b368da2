"""What is always said beside a built orthosis, in English; the words lie in the catalogue (`texts/`)."""

from print3d.texts.catalogue import lines

CAUTIONS = lines("cautions.all")
