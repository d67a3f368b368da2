"""The case of a training model: whose hand, in which pose, on what stand, and how it is printed."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from pydantic import Field

from print3d.inputs.case import CaseHeader, PrintChoice
from print3d.inputs.finger_words import with_fingers_named
from print3d.inputs.libraries import Libraries
from print3d.inputs.materials import Material, Printer, read_materials, read_printers
from print3d.inputs.measured import Measured
from print3d.inputs.part_mark import PartMark
from print3d.inputs.problems import Problem, refusal
from print3d.inputs.rules import other_finger_problems, print_problems
from print3d.inputs.table import GivenValues, Section
from print3d.inputs.toml_file import read_toml
from print3d.inputs.validation import Validated, validate
from print3d.language.message import message

BodyName = Literal["finger", "hand", "hand_and_forearm"]
PoseName = Literal["neutral", "mallet", "swan_neck", "boutonniere", "flexor_repair"]
JOINT_KEYS = ("mcp", "pip", "dip")


class SocketOptions(Section):
    """A hole in the bottom of the stand, to mount models on one board."""

    style: Literal["none", "magnet", "screw"] = Field("none", description="What holds the model on a board")
    diameter_mm: float = Field(8.0, ge=1.5, le=20, description="Diameter of magnet, or of a screw's core")
    depth_mm: float = Field(3.0, ge=1, le=20, description="Thickness of the magnet, or length of the thread")


class ModelOptions(Section):
    """What is modelled, and on what it stands."""

    body: BodyName = Field("finger", description="How much of the hand")
    pose: PoseName = Field("neutral", description="What the model shows")
    mcp_flexion_deg: float | None = Field(None, ge=0, le=90, description="Instead of the pose's own")
    pip_flexion_deg: float | None = Field(None, ge=0, le=100, description="Instead of the pose's own")
    dip_flexion_deg: float | None = Field(None, ge=0, le=80, description="Instead of the pose's own")
    mcp_hyperextension_deg: float | None = Field(None, ge=0, le=40, description="Instead of the pose's own")
    pip_hyperextension_deg: float | None = Field(None, ge=0, le=50, description="Instead of the pose's own")
    dip_hyperextension_deg: float | None = Field(None, ge=0, le=40, description="Instead of the pose's own")
    wrist_flexion_deg: float | None = Field(None, ge=0, le=60, description="Of the whole hand")
    wrist_extension_deg: float | None = Field(None, ge=0, le=60, description="Of the whole hand")
    are_fingers_apart: bool = Field(
        True, description="Fingers of a hand stand apart; together they are as measured, and printed as one"
    )
    is_jointed: bool = Field(False, description="A finger of three parts that turn about printed hinges")
    teaching_line: Literal["none", "tendon", "skeleton"] = Field(
        "none",
        description="Flexor tendon with zones on the palm side, or bones and joints on the radial side",
    )
    has_stand: bool = Field(True, description="On a plate with a label")
    label: str | None = Field(
        None, min_length=1, max_length=24, description="On the stand instead of the pose's name"
    )
    letter_height_mm: float = Field(5.0, ge=2, le=15, description="Height of a capital letter on the stand")
    stand_thickness_mm: float = Field(9.0, ge=4, le=25, description="Thickness of the stand")
    forearm_mm: float | None = Field(None, ge=20, le=200, description="So much forearm is shown")
    scale: float = Field(1.0, ge=0.3, le=1.5, description="Size of the print over that of the hand")
    socket: SocketOptions = Field(default_factory=SocketOptions, description="Hole to mount it by")

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return two answers to one question, and what a body cannot have."""
        problems = []
        for joint in (*JOINT_KEYS, "wrist"):
            bent, back = f"{joint}_flexion_deg", "extension" if joint == "wrist" else "hyperextension"
            other = f"{joint}_{back}_deg"
            if given.get(bent) is not None and given.get(other) is not None:
                wanted = message("refusals.model.both_ways", other=bent, angle=given[bent])
                problems.append(Problem(other, given[other], wanted))
        if given.get("is_jointed") and given.get("body") not in (None, "finger"):
            problems.append(Problem("is_jointed", True, message("refusals.model.hinges")))
        depth, thick = given.get("socket.depth_mm"), given.get("stand_thickness_mm")
        if (
            given.get("socket.style") == "magnet"
            and depth is not None
            and thick is not None
            and depth > thick - 2
        ):
            problems.append(
                Problem("socket.depth_mm", depth, message("refusals.model.magnet", most=thick - 2))
            )
        letters = given.get("letter_height_mm")
        if letters is not None and thick is not None and given.get("has_stand") and letters > thick - 2:
            problems.append(
                Problem("letter_height_mm", letters, message("refusals.model.letters", most=thick - 2))
            )
        return problems


class ModelFile(Section):
    """The tables of a model case."""

    case: CaseHeader = Field(description="Who and where")
    measured: Measured = Field(default_factory=Measured, description="What was measured")
    model: ModelOptions = Field(description="What is modelled")
    print: PrintChoice = Field(description="How it is printed")


@dataclass(frozen=True)
class ModelCase:
    """A complete, valid case of a training model; the fields are those of the file, `revision` as in its mark."""

    source: Path
    header: CaseHeader
    measured: Measured
    model: ModelOptions
    print: PrintChoice
    material: Material
    printer: Printer
    libraries: Libraries = Libraries()
    revision: str = ""

    @property
    def mark(self) -> PartMark:
        """What tells it from all others."""
        return PartMark(self.header.code, self.header.visit, self.revision)


def read_model_case(path: Path, libraries: Libraries | None = None) -> ModelCase:
    """Read a model case; without libraries those beside its folder are taken. Raises InputError with every problem of the file."""
    return model_case_from_data(read_toml(path), path, libraries)


def model_case_from_data(
    data: Mapping[str, object], source: Path, libraries: Libraries | None = None
) -> ModelCase:
    """Make a case from the tables of a file; `source` is named in messages.

    Raises InputError with every problem.
    """
    own = Libraries.beside(source) if libraries is None else libraries
    materials, printers = read_materials(own.materials), read_printers(own.printers)
    named = with_fingers_named(data).data
    result: Validated[ModelFile] = validate(ModelFile, named)
    problems = [
        *result.problems,
        *_other_finger(result.given, named),
        *print_problems(result.given, materials, printers),
    ]
    if result.table is None or problems:
        raise refusal(source, problems)
    file = result.table
    return ModelCase(
        source, file.case, file.measured, file.model, file.print,
        materials[file.print.material], printers[file.print.printer], own,
    )  # fmt: skip


def _other_finger(given: GivenValues, data: Mapping[str, object]) -> Iterator[Problem]:
    """Yield measures of another finger than the model's. None at all are an average finger's, which a class may want."""
    finger, raw = given.get("case.finger"), data.get("measured", {})
    if finger is not None and isinstance(raw, Mapping) and given.get("model.body") == "finger":
        yield from other_finger_problems(raw, finger)
