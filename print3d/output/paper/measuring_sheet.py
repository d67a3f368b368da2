"""The blank measuring form of a kind: a drawing of where the tape goes, and a row for each measure."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from print3d import __version__
from print3d.inputs.measured import FINGERS
from print3d.kinds.measures import Measure, Measures, draws_hand, in_form_order
from print3d.kinds.registry import KINDS, AnyKind
from print3d.language.catalogue import Language, lines, text
from print3d.output.paper.drawing import NOTE
from print3d.output.paper.finger_drawing import draw_angles, draw_finger
from print3d.output.paper.hand_drawing import draw_hand
from print3d.output.paper.paper import Columns, Paper, Size
from print3d.output.paper.signs import dot
from print3d.output.paper.words import Words

NEEDED, IMPORTANT = "•", "+"
"""Beside the number of a measure."""
SCALES = (1.0, 0.94)
"""At which a form is set; own choice."""
ROW_MM = 7.0
"""Height of a row to write in by hand; own choice."""


@dataclass(frozen=True)
class Wanted:
    """What a form asks for, by where it is written down.

    measures : all, as they are numbered
    several : whether fingers beside the injured one are measured too
    """

    measures: Measures
    several: bool

    @property
    def hand(self) -> tuple[str, ...]:
        """Keys of the table [measured]."""
        return tuple(each.key for each in self.measures if each.is_of_hand)

    @property
    def finger(self) -> tuple[str, ...]:
        """Keys of the table of a finger, in mm."""
        return tuple(each.key for each in self.measures if not each.is_of_hand and each.key.endswith("_mm"))

    @property
    def angles(self) -> tuple[str, ...]:
        """Keys of the table of a finger, in degrees."""
        return tuple(each.key for each in self.measures if each.key.endswith("_deg"))

    @property
    def has_hand_drawing(self) -> bool:
        """Whether hand and forearm are drawn."""
        return draws_hand(self.measures)

    @property
    def marks(self) -> dict[str, str]:
        """Key -> sign beside its number: what is needed, what is important, in brackets where only over the wrist."""
        return {each.key: mark_of(each) for each in self.measures}


def wanted_for(kind: AnyKind) -> Wanted:
    """Return what the form of a kind asks for."""
    return Wanted(in_form_order(kind.measures), kind.takes_all_fingers)


def mark_of(measure: Measure) -> str:
    """Return the sign of a measure."""
    sign = NEEDED if measure.is_needed else IMPORTANT if measure.is_important else ""
    return f"({sign})" if sign and measure.is_only_over_the_wrist else sign


def write_measuring_form(path: Path, kind: str, language: Language, size: Size = "a4") -> None:
    """Write the form of one kind, a little smaller where that saves a page."""
    foot = text("sheets.paper.foot_blank", language, version=__version__)
    made = [_form(kind, Words(language), size, scale).made(foot) for scale in SCALES]
    path.write_bytes(min(made, key=lambda each: each.pages).content)


def _form(kind: str, words: Words, size: Size, scale: float) -> Paper:
    language, wanted = words.language, wanted_for(KINDS[kind])
    title = words("measuring.form.title", kind=words(f"kinds.{kind}.name"))
    paper = Paper(title, "", language, size, scale)
    paper.paragraph(words("measuring.form.lead"))
    paper.blanks(lines("measuring.form.case", language))
    paper.items([*marks_in_words(words, wanted), *lines("measuring.form.rules", language)], dot)
    form = Form(paper, words, wanted)
    if wanted.has_hand_drawing:
        form.hand()
    if wanted.finger:
        form.finger()
    if wanted.angles:
        form.angles()
    if wanted.hand and not wanted.has_hand_drawing:
        paper.heading(words("measuring.form.hand"))
        form.rows(wanted.hand)
    paper.blanks([words("measuring.form.sex")])
    return paper


def marks_in_words(words: Words, wanted: Wanted) -> list[str]:
    """Return what the signs of a form mean, those alone that stand on it."""
    signs = set(wanted.marks.values())
    named = {"needed": NEEDED, "important": IMPORTANT, "over_the_wrist": f"({NEEDED})"}
    return [words(f"measuring.form.mark.{name}", sign=sign) for name, sign in named.items() if sign in signs]


@dataclass(frozen=True)
class Form:
    """A form under way; rows are numbered in the order in which they stand on it."""

    paper: Paper
    words: Words
    wanted: Wanted

    def hand(self) -> None:
        """Draw hand and forearm, and write their rows."""
        self.paper.heading(self.words("measuring.form.palm_view"))
        draw_hand(self.paper, self.words, self.numbers(self.wanted.hand))
        self.rows(self.wanted.hand)

    def finger(self) -> None:
        """Draw a finger, and write the rows of its girths and lengths."""
        self.paper.heading(self.words("measuring.form.girths"))
        draw_finger(self.paper, self.words, self.numbers(self.wanted.finger))
        self.rows(self.wanted.finger, several=self.wanted.several)

    def angles(self) -> None:
        """Draw how its joints are measured, and write their rows."""
        self.paper.heading(self.words("measuring.form.angles"))
        self.paper.paragraph(self.words("measuring.form.angle_rules"))
        draw_angles(self.paper, self.numbers(self.wanted.angles))
        self.rows(self.wanted.angles, several=self.wanted.several)

    def numbers(self, keys: Sequence[str]) -> dict[str, int]:
        """Return the number of each key."""
        order = [each.key for each in self.wanted.measures]
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
            unit = "mm" if key.endswith("_mm") else "°"
            what = words(f"measuring.measure.{key}")
            rows.append(
                (f"{number} {self.wanted.marks[key]}".rstrip(), what, unit, *("" for _ in values), key)
            )
        shares = (7, 28, 7, *(9 for _ in values), 30) if several else (7, 42, 8, 14, 29)
        self.paper.table(rows, Columns(shares, [*head, *values, words("measuring.form.key")], NOTE, ROW_MM))
