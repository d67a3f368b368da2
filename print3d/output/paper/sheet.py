"""What every sheet of a case shares: its data, its paper and its foot."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from print3d import __version__
from print3d.checks.finding import Finding
from print3d.design.advice import Advice
from print3d.forms.orthosis import Orthosis
from print3d.geometry.mesh import Mesh
from print3d.inputs.case import Case
from print3d.inputs.measured import FINGERS
from print3d.language.catalogue import lines, number, text
from print3d.limb.finger import FingerLimb
from print3d.output.paper.paper import BODY, NOTE, Paper, Style
from print3d.output.paper.signs import warning
from print3d.output.paper.words import Words
from print3d.printing.plan import PrintPlan, plan_print


@dataclass(frozen=True, eq=False)
class SheetData:
    """One case as the sheets show it.

    meshes : parts by name, for the hand of the case
    """

    case: Case
    orthosis: Orthosis
    findings: Sequence[Finding]
    meshes: dict[str, Mesh]
    warnings: Sequence[str] = ()
    remarks: Sequence[str] = ()
    estimates: Sequence[str] = ()
    advice: Sequence[Advice] = ()

    @property
    def words(self) -> Words:
        """The language of the case."""
        return Words(self.case.header.language)

    @property
    def plans(self) -> list[PrintPlan]:
        """How each part is best printed."""
        return [plan_print(part, self.case.printer, self.case.material) for part in self.orthosis.parts]

    @property
    def failing(self) -> list[Finding]:
        """The findings that do not hold."""
        return [finding for finding in self.findings if not finding.holds]

    @property
    def watched(self) -> list[Finding]:
        """The findings that hold but are to be watched."""
        return [finding for finding in self.findings if finding.is_watched]

    @property
    def wall(self) -> str:
        """The wall of the parts: one thickness, or each with its part where they differ."""
        words = self.words
        walls = {
            part.name: f"{number(part.definition.wall_mm, words.language)} mm" for part in self.orthosis.parts
        }
        if len(set(walls.values())) == 1:
            return next(iter(walls.values()))
        return words.listed([f"{words.named('part', name)} {wall}" for name, wall in walls.items()])

    @property
    def warned(self) -> list[str]:
        """The warnings in the language of the case."""
        return [self.words.said(each, "told") for each in self.warnings]

    @property
    def remarked(self) -> list[str]:
        """The remarks in the language of the case."""
        return [self.words.said(each, "told") for each in self.remarks]

    @property
    def estimated(self) -> list[str]:
        """The estimates in the language of the case."""
        return [self.words.said(each, "estimate") for each in self.estimates]

    @property
    def own_estimates(self) -> list[str]:
        """The estimates of the case's finger, hand and forearm, in the language of the case; other fingers' are left out."""
        if isinstance(self.orthosis.limb, FingerLimb):
            return self.estimated
        others = tuple(f"{name} " for name in FINGERS if name != self.case.header.finger)
        return [self.words.said(each, "estimate") for each in self.estimates if not each.startswith(others)]

    def paper(self, title_key: str) -> Paper:
        """Begin a document."""
        words = self.words
        paper = Paper(words(title_key), self.case.header.code, words.language, self.case.header.paper)
        paper.paragraph(words.title(self.case), Style(BODY.size_pt, "Sheet-Bold"))
        return paper

    def save(self, paper: Paper, path: Path) -> None:
        """Write a document with the foot of the case."""
        paper.save(path, self.words("sheets.paper.foot", version=__version__, code=self.case.header.code))


def cautions(paper: Paper) -> None:
    """Write what is always said beside an orthosis."""
    paper.heading(text("cautions.head", paper.language), keep_mm=22.0)
    paper.items(lines("cautions.all", paper.language), warning, NOTE)
