"""What the tape and the goniometer gave. Every number is optional; the limb estimates what is missing.

The limits are those of the possible, from a small child to the largest adult, chosen well outside the published
extremes (hand length 145 to 239 mm in 6,068 adults, ANSUR II 2012; 118 mm at age 4, DINED Kima 1993): beyond them a
number is a slip. Improbable numbers inside them are a warning elsewhere, not an error.
"""

from typing import Literal

from pydantic import Field

from print3d.inputs.problems import Problem
from print3d.inputs.table import GivenValues, Section
from print3d.language.message import message

FingerName = Literal["index", "middle", "ring", "little"]
FINGERS: tuple[FingerName, ...] = ("index", "middle", "ring", "little")

FOREARM_PLACES_MM = (50, 100, 150, 200)
"""Distances from the wrist crease at which the forearm is measured: marks that every tape has."""

SWELLING_MM = 3.0
"""A swollen DIP may exceed the PIP girth by this much; more is a slip or a case for a new look. From memory:
a finger's girth can change by a ring size, 2.5 mm, within a day (common practice, no single source)."""

TAPE_MM = 5.0
"""Girths of neighbouring places may be out of order by this much before they are called a slip; own choice."""


class FingerMeasured(Section):
    """One finger, straight. Girths by tape; lengths on the palm side, from crease to crease."""

    web_girth_mm: float | None = Field(None, ge=30, le=150, description="Girth at the web, snug")
    proximal_girth_mm: float | None = Field(
        None, ge=28, le=140, description="Girth at mid proximal phalanx, snug"
    )
    pip_girth_mm: float | None = Field(None, ge=28, le=140, description="Girth over the PIP joint, snug")
    middle_girth_mm: float | None = Field(
        None, ge=25, le=130, description="Girth at mid middle phalanx, snug"
    )
    dip_girth_mm: float | None = Field(None, ge=22, le=130, description="Girth over the DIP joint, snug")
    nail_fold_girth_mm: float | None = Field(None, ge=20, le=120, description="Girth at the nail fold, snug")
    web_crease_to_pip_crease_mm: float | None = Field(
        None, ge=8, le=55, description="Palm side, finger straight: crease at the web to PIP crease"
    )
    pip_crease_to_dip_crease_mm: float | None = Field(
        None, ge=6, le=50, description="Palm side, finger straight: PIP crease to DIP crease"
    )
    dip_crease_to_tip_mm: float | None = Field(
        None, ge=9, le=50, description="Palm side, finger straight: DIP crease to fingertip"
    )
    mcp_max_flexion_deg: float | None = Field(None, ge=0, le=120, description="Greatest MCP flexion")
    pip_max_flexion_deg: float | None = Field(None, ge=0, le=140, description="Greatest PIP flexion")
    dip_max_flexion_deg: float | None = Field(None, ge=0, le=120, description="Greatest DIP flexion")
    pip_passive_extension_deficit_deg: float | None = Field(
        None, ge=0, le=120, description="What the PIP lacks of straight when gently extended by hand"
    )
    dip_passive_hyperextension_deg: float | None = Field(
        None, ge=0, le=70, description="How far beyond straight the DIP goes when gently extended by hand"
    )
    dip_blanch_hyperextension_deg: float | None = Field(
        None, ge=0, le=70, description="DIP hyperextension at which the skin over the joint turns pale"
    )

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return girths out of order and angles that exclude each other."""
        problems = _above(given, "dip_girth_mm", "pip_girth_mm", SWELLING_MM)
        problems += _above(given, "dip_blanch_hyperextension_deg", "dip_passive_hyperextension_deg")
        problems += _above(given, "pip_passive_extension_deficit_deg", "pip_max_flexion_deg")
        return problems

    def girths_and_lengths(self) -> dict[str, float]:
        """Return what the tape gave, by key; only what was measured."""
        return {key: value for key, value in self if key.endswith("_mm") and value is not None}


class Measured(Section):
    """The hand as a whole, and a table for each measured finger."""

    sex: Literal["woman", "man"] | None = Field(None, description="For estimates of what was not measured")
    age_years: float | None = Field(None, ge=1, le=120, description="Age")
    stature_mm: float | None = Field(None, ge=700, le=2500, description="Standing height")
    hand_length_mm: float | None = Field(
        None, ge=80, le=260, description="Wrist crease to tip of the middle finger, palm side, hand flat"
    )
    palm_length_mm: float | None = Field(
        None, ge=45, le=160, description="Wrist crease to the crease at the base of the middle finger"
    )
    palmar_crease_index_mm: float | None = Field(
        None,
        ge=25,
        le=130,
        description="Wrist crease to the distal palmar crease in line with the index finger",
    )
    palmar_crease_little_mm: float | None = Field(
        None,
        ge=20,
        le=120,
        description="Wrist crease to the distal palmar crease in line with the little finger",
    )
    hand_breadth_mm: float | None = Field(
        None, ge=40, le=130, description="Across the heads of metacarpals II to V"
    )
    hand_girth_mm: float | None = Field(
        None, ge=90, le=330, description="Around the heads of metacarpals II to V"
    )
    wrist_girth_mm: float | None = Field(None, ge=80, le=300, description="Around the wrist at the styloids")
    forearm_girth_mm: float | None = Field(
        None, ge=100, le=550, description="Around the forearm where it is widest"
    )
    forearm_length_mm: float | None = Field(
        None, ge=100, le=400, description="Head of the radius to radial styloid"
    )
    forearm_girth_at_50_mm: float | None = Field(
        None, ge=80, le=450, description="Around the forearm 50 mm proximal of the wrist crease"
    )
    forearm_girth_at_100_mm: float | None = Field(
        None, ge=80, le=500, description="Around the forearm 100 mm proximal of the wrist crease"
    )
    forearm_girth_at_150_mm: float | None = Field(
        None, ge=80, le=550, description="Around the forearm 150 mm proximal of the wrist crease"
    )
    forearm_girth_at_200_mm: float | None = Field(
        None, ge=80, le=550, description="Around the forearm 200 mm proximal of the wrist crease"
    )
    confirmed: tuple[str, ...] = Field(
        (),
        strict=False,
        description='Measures that look wrong, were taken again and are true; a finger\'s with its name: "middle.pip_girth_mm"',
    )
    index: FingerMeasured = Field(default_factory=FingerMeasured, description="Index finger")
    middle: FingerMeasured = Field(default_factory=FingerMeasured, description="Middle finger")
    ring: FingerMeasured = Field(default_factory=FingerMeasured, description="Ring finger")
    little: FingerMeasured = Field(default_factory=FingerMeasured, description="Little finger")

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return hand measures that exclude each other."""
        problems = _above(given, "palm_length_mm", "hand_length_mm")
        for ray in ("index", "little"):
            problems += _above(given, f"palmar_crease_{ray}_mm", "palm_length_mm")
            problems += _above(given, f"palmar_crease_{ray}_mm", "hand_length_mm")
        problems += _above(given, "wrist_girth_mm", "forearm_girth_mm")
        problems += _forearm_problems(given)
        breadth, girth = given.get("hand_breadth_mm"), given.get("hand_girth_mm")
        if breadth is not None and girth is not None and girth <= 2 * breadth:
            wanted = message("refusals.measured.girth_breadth", breadth_mm=breadth, least=2 * breadth)
            problems.append(Problem("hand_girth_mm", girth, wanted))
        return problems

    def hand_measures(self) -> dict[str, float]:
        """Return the hand's measured numbers by key; fingers and sex are not among them."""
        return {key: value for key, value in self if isinstance(value, float)}

    def finger(self, name: FingerName) -> FingerMeasured:
        """Return one finger's table."""
        table: FingerMeasured = getattr(self, name)
        return table

    def finger_measures(self, finger: FingerName) -> dict[str, float]:
        """Return one finger's measured girths and lengths by key."""
        return self.finger(finger).girths_and_lengths()

    def motion_deg(self, finger: FingerName, key: str) -> float | None:
        """Return a measured angle of one finger, such as "pip_max_flexion_deg", or None if it was not measured."""
        angle: float | None = getattr(self.finger(finger), key)
        return angle


def _forearm_problems(given: GivenValues) -> list[Problem]:
    """Return forearm girths above the widest, below the wrist's, or measured beyond the elbow."""
    problems, length = list[Problem](), given.get("forearm_length_mm")
    for place in FOREARM_PLACES_MM:
        key = f"forearm_girth_at_{place}_mm"
        problems += _above(given, key, "forearm_girth_mm", TAPE_MM)
        problems += _above(given, "wrist_girth_mm", key, TAPE_MM)
        if given.get(key) is not None and length is not None and place >= length:
            wanted = message("refusals.measured.beyond_elbow", place_mm=place, length_mm=length)
            problems.append(Problem(key, given[key], wanted))
    return problems


def _above(given: GivenValues, key: str, limit_key: str, slack: float = 0.0) -> list[Problem]:
    """Return a problem if one value exceeds another by more than `slack`."""
    value, limit = given.get(key), given.get(limit_key)
    if value is None or limit is None or value <= limit + slack:
        return []
    wanted = message("refusals.measured.above", most=limit + slack, limit_key=limit_key, limit=limit)
    return [Problem(key, value, wanted)]


def with_finger(key: str, finger: FingerName) -> str:
    """Return the key of a measure with its finger's name, the case's own where it has none."""
    return f"{finger}.{key}" if key in FingerMeasured.model_fields else key
