"""Cases as sheets show them, with a finding that holds and one that does not, and a reader of the finished PDF."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
import pytest

from print3d.built import Built
from print3d.inputs.case import Override
from print3d.language.catalogue import Language
from print3d.language.message import as_it_stands, message
from print3d.limb.estimates import Estimate, dimension
from print3d.output.estimates import one_by_one
from print3d.output.paper.paper import Size
from tests.checks.made import made
from tests.shaped import changed, shaped

FINDINGS = (
    made("wall.thinnest", 0.512, 0.8, how="shrinking ball", source="four bureau tables", where=(1.0, 2.0, 3.0)),
    made("joints.held", -0.0004, (-1.0, 1.0), "deg", "between", how="rigid fit", source="own choice: " * 12,
         joint=message("common.joint.pip"), way=message("checks.joints.way.flexion"), asked_deg=0.0),
)  # fmt: skip
OVERRIDE = Override(
    reason="Agreed with the surgeon after a look at the scar, for two weeks only " * 4,
    allow=("wrist_flexion",),
)


@pytest.fixture(scope="session")
def sheet_data() -> Callable[..., Built]:
    """Return a function that makes a shipped case as the sheets show it, with planted findings."""

    def make(name: str, language: Language = "en", size: Size = "a4", *, is_awkward: bool = False) -> Built:
        built = shaped(name)
        head = built.case.header.model_copy(update={"language": language, "paper": size})
        nothing = {"warnings": (), "remarks": (), "estimates": {}, "advice": ()}
        data = changed(built, case=replace(built.case, header=head), findings=FINDINGS, **nothing)
        if not is_awkward:
            return data
        head = head.model_copy(update={"code": "W" * 24, "note": "Note that runs on. " * 26})
        many = {
            f"forearm_girth_at_{number}_mm": Estimate(
                number, 2.0, False, message("estimates.method.from", what=dimension("pip_girth_mm")), ""
            )
            for number in range(40)
        }
        lines = one_by_one({"middle": many})
        return changed(
            data,
            case=replace(built.case, header=head, override=OVERRIDE),
            warnings=(as_it_stands("hand_length_mm looks odd " * 5),),
            remarks=tuple(lines[:5]),
            estimates={built.case.header.finger: many},
        )

    return make


@dataclass(frozen=True)
class Box:
    """One line of text on a page: its words and left, bottom, right, top in mm."""

    words: str
    left: float
    bottom: float
    right: float
    top: float

    def overlaps(self, other: "Box", slack: float = 0.25) -> bool:
        across = min(self.right, other.right) - max(self.left, other.left)
        up = min(self.top, other.top) - max(self.bottom, other.bottom)
        return across > slack and up > slack


MM = 72.0 / 25.4
DOT_MM = 25.4 / 600


class Pdf:
    """A finished PDF, read by PDFium."""

    def __init__(self, path: Path) -> None:
        self.document = pdfium.PdfDocument(path.read_bytes())

    def boxes(self) -> list[list[Box]]:
        """Text boxes of every page."""
        pages = []
        for page in self.document:
            text = page.get_textpage()
            rects = [text.get_rect(number) for number in range(text.count_rects())]
            pages.append(
                [Box(text.get_text_bounded(*rect), *(float(each) / MM for each in rect)) for rect in rects]
            )
        return pages

    def text(self) -> str:
        return " ".join(" ".join(page.get_textpage().get_text_bounded().split()) for page in self.document)

    def sizes_mm(self) -> list[tuple[float, float]]:
        return [(page.get_width() / MM, page.get_height() / MM) for page in self.document]

    def picture(self, page: int) -> np.ndarray:
        """A page in grey at 600 dots an inch, (rows from the foot, columns)."""
        image = self.document[page].render(scale=600 / 72.0, grayscale=True).to_numpy()
        return np.asarray(image[::-1]).reshape(image.shape[:2])
