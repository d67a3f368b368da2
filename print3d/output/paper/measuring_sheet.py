"""The blank measuring form of a kind: a drawing of where the tape goes, and a row for each measure."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from print3d import __version__
from print3d.language.catalogue import Language, lines
from print3d.limb.four_fingers import FINGERS
from print3d.output.paper.finger_drawing import draw_angles, draw_finger
from print3d.output.paper.hand_drawing import draw_hand
from print3d.output.paper.paper import NOTE, Columns, Paper, Size
from print3d.output.paper.signs import dot
from print3d.output.paper.words import Words

LENGTHS = ("web_crease_to_pip_crease_mm", "pip_crease_to_dip_crease_mm", "dip_crease_to_tip_mm")
ROW_MM = 7.0


@dataclass(frozen=True)
class Wanted:
    """What a kind wants measured; the first of each list matter most.

    hand : keys of the table [measured]
    finger : keys of the table of a finger
    angles : keys of that table in degrees
    most : keys that matter most
    has_hand_drawing : whether hand and forearm are drawn
    several : whether fingers beside the injured one are measured too
    """

    finger: tuple[str, ...]
    angles: tuple[str, ...]
    most: frozenset[str]
    hand: tuple[str, ...] = ("hand_length_mm", "wrist_girth_mm")
    has_hand_drawing: bool = False
    several: bool = False


FOREARM = tuple(f"forearm_girth_at_{place}_mm" for place in (50, 100, 150, 200))
ALL_GIRTHS = ("web_girth_mm", "proximal_girth_mm", "pip_girth_mm", "middle_girth_mm", "dip_girth_mm")
TIP_GIRTHS = ("pip_girth_mm", "middle_girth_mm", "dip_girth_mm", "nail_fold_girth_mm")
HYPEREXTENSION = ("dip_passive_hyperextension_deg", "dip_blanch_hyperextension_deg")
WANTED = {
    "pip_extension": Wanted(
        (*ALL_GIRTHS, *LENGTHS),
        ("pip_passive_extension_deficit_deg", "pip_max_flexion_deg", "dip_max_flexion_deg", "mcp_max_flexion_deg"),
        frozenset(("pip_girth_mm", "dip_girth_mm", "pip_passive_extension_deficit_deg", *LENGTHS)),
    ),
    "mallet": Wanted(
        (*TIP_GIRTHS, *LENGTHS),
        ("pip_max_flexion_deg", *HYPEREXTENSION),
        frozenset(("middle_girth_mm", "dip_girth_mm", *LENGTHS[1:], *HYPEREXTENSION)),
    ),
    "mallet_with_pip_block": Wanted(
        ("proximal_girth_mm", *TIP_GIRTHS, *LENGTHS),
        ("pip_max_flexion_deg", *HYPEREXTENSION),
        frozenset(("pip_girth_mm", "middle_girth_mm", "dip_girth_mm", *LENGTHS, *HYPEREXTENSION)),
    ),
    "figure_of_eight": Wanted(
        (*ALL_GIRTHS[1:], *LENGTHS),
        ("pip_max_flexion_deg", "pip_passive_extension_deficit_deg"),
        frozenset(("proximal_girth_mm", "pip_girth_mm", "middle_girth_mm", *LENGTHS[:2])),
    ),
    "relative_motion": Wanted(
        ("proximal_girth_mm", "pip_girth_mm", "dip_girth_mm", *LENGTHS),
        ("pip_max_flexion_deg",),
        frozenset(("proximal_girth_mm", "pip_girth_mm", LENGTHS[0], "hand_breadth_mm", "hand_length_mm")),
        hand=("hand_length_mm", "hand_breadth_mm", "wrist_girth_mm"),
        has_hand_drawing=True,
        several=True,
    ),
    "dorsal_blocking": Wanted(
        ("pip_girth_mm", "dip_girth_mm", *LENGTHS),
        ("mcp_max_flexion_deg", "pip_max_flexion_deg"),
        frozenset(("hand_length_mm", "hand_breadth_mm", "hand_girth_mm", "wrist_girth_mm", "forearm_length_mm", *FOREARM)),
        hand=("hand_length_mm", "palm_length_mm", "hand_breadth_mm", "hand_girth_mm", "wrist_girth_mm",
              *FOREARM, "forearm_girth_mm", "forearm_length_mm"),
        has_hand_drawing=True,
        several=True,
    ),
}  # fmt: skip
"""By kind; which matter most follows from what the kind's shape is made of."""


def write_measuring_form(path: Path, kind: str, language: Language, size: Size = "a4") -> None:
    """Write the form of one kind."""
    words, wanted = Words(language), WANTED[kind]
    title = words("measuring.form.title", kind=words.named("kind", kind))
    paper = Paper(title, "", language, size)
    paper.paragraph(words("measuring.form.lead"))
    paper.blanks(lines("measuring.form.case", language))
    paper.items(lines("measuring.form.rules", language), dot)
    form = Form(paper, words, wanted)
    if wanted.has_hand_drawing:
        paper.heading(words("measuring.form.palm_view"), keep_mm=60.0)
        draw_hand(paper, words, form.numbers(wanted.hand))
        form.rows(wanted.hand)
    paper.heading(words("measuring.form.girths"), keep_mm=100.0)
    draw_finger(paper, words, form.numbers(wanted.finger))
    form.rows(wanted.finger, several=wanted.several)
    paper.heading(words("measuring.form.angles"), keep_mm=60.0)
    paper.paragraph(words("measuring.form.angle_rules"))
    draw_angles(paper, form.numbers(wanted.angles))
    form.rows(wanted.angles, several=wanted.several)
    if not wanted.has_hand_drawing:
        paper.heading(words("measuring.form.hand"), keep_mm=20.0)
        form.rows(wanted.hand)
    paper.blanks([words("measuring.form.sex")])
    paper.save(path, words("sheets.paper.foot_blank", version=__version__))


@dataclass(frozen=True)
class Form:
    """A form under way; rows are numbered in the order in which they stand on it."""

    paper: Paper
    words: Words
    wanted: Wanted

    def numbers(self, keys: Sequence[str]) -> dict[str, int]:
        """Return the number of each key."""
        hand, fingers = self.wanted.hand, (*self.wanted.finger, *self.wanted.angles)
        order = (*hand, *fingers) if self.wanted.has_hand_drawing else (*fingers, *hand)
        return {key: order.index(key) + 1 for key in keys}

    def rows(self, keys: Sequence[str], *, several: bool = False) -> None:
        """Write a row per measure: number, what, unit, room for the value (of each finger), key in the case file."""
        words = self.words
        values = (
            [words(f"measuring.short.{name}") for name in FINGERS]
            if several
            else [words("measuring.form.value")]
        )
        head = [words(f"measuring.form.{name}") for name in ("number", "what", "unit")]
        rows = []
        for key, number in self.numbers(keys).items():
            mark = " •" if key in self.wanted.most else ""
            unit = "mm" if key.endswith("_mm") else "°"
            what = words(f"measuring.measure.{key}")
            rows.append((f"{number}{mark}", what, unit, *("" for _ in values), key))
        shares = (7, 30, 7, *(8 for _ in values), 32) if several else (7, 42, 8, 14, 29)
        self.paper.table(rows, Columns(shares, [*head, *values, words("measuring.form.key")], NOTE, ROW_MM))
