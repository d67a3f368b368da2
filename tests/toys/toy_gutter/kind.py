"""A toy kind: half a tube on the palm side of a toy limb, held on by two straps."""

from typing import Literal

import shapely
from print3d.kinds.toy_gutter.limb import JOINT_MM, ToyLimb
from pydantic import Field

from print3d.forms.orthosis import Orthosis, Part, PlacedStrap
from print3d.inputs.case import Case
from print3d.inputs.options import OrthosisOptions
from print3d.kinds.kind import Kind
from print3d.limb.joint_id import parse_joint
from print3d.shell.assemble import Blueprint, assemble
from print3d.shell.curves import loop_of, rounded
from print3d.shell.drape import Extent, even
from print3d.shell.slots import STRAP_PLAY_MM, straight_line

FIRST_MM, LAST_MM, CORNER_MM, SPACING_MM, STRAP_MM, GAP_MM, BESIDE_MM = 4.0, 62.0, 4.0, 0.5, 8.0, 2.6, 5.0


class ToyGutterOptions(OrthosisOptions):
    """Options of the toy gutter."""

    kind: Literal["toy_gutter"] = "toy_gutter"
    joint: str = Field("middle.dip", description="The joint that it holds")
    held_deg: float = Field(10.0, ge=0.0, le=40.0, description="Flexion at which it holds it")
    lacks: Literal["nothing", "tube", "all"] = Field("nothing", description="What the limb cannot tell")
    wall_mm: float = Field(2.4, ge=1.0, le=5.0, description="Wall thickness")
    clearance_mm: float = Field(0.4, ge=0.0, le=2.0, description="Between skin and inner face")
    rim_radius_mm: float = Field(0.8, ge=0.3, le=2.0, description="Rounding of every edge")


KNOWN = {"nothing": {"tube", "sheet"}, "tube": {"sheet"}, "all": set[str]()}


def build(_case: Case, options: ToyGutterOptions) -> Orthosis:
    """Build the orthosis of a case."""
    joint = parse_joint(options.joint)
    sheet = ToyLimb(joint, options.held_deg).sheet("volar")
    assert sheet is not None
    half = 0.27 * sheet.reference_girth_mm
    outline = rounded(shapely.box(FIRST_MM, -half, LAST_MM, half), CORNER_MM)
    places = (FIRST_MM + BESIDE_MM + STRAP_MM / 2.0, JOINT_MM, LAST_MM - BESIDE_MM - STRAP_MM / 2.0)
    slots = tuple(
        straight_line(
            sheet.points, (place, side * (half - 4.0)), 0.0, STRAP_MM + STRAP_PLAY_MM - GAP_MM
        ).slot(GAP_MM, SPACING_MM)
        for place in places
        for side in (-1.0, 1.0)
    )
    shell = assemble(
        Blueprint(
            boundary=lambda spacing: (loop_of(outline, "outline", spacing),),
            loop_spacing_mm=SPACING_MM,
            holes=slots,
            skin=sheet.points,
            extent=Extent.around_outline(outline, 1.0),
            clearance=even(options.clearance_mm),
            wall_mm=options.wall_mm,
            rim_radius_mm=options.rim_radius_mm,
        )
    )
    mesh = shell.mesh
    planned = even(options.clearance_mm)(*mesh.pattern_points.T)
    part = Part("toy_gutter", shell.definition, mesh, planned, mesh.inner_vertices,
                straps=(PlacedStrap("back_pip", STRAP_MM),) * len(places))  # fmt: skip
    limb = ToyLimb(joint, options.held_deg, frozenset(KNOWN[options.lacks]))
    return Orthosis("toy_gutter", limb, (part,), joint.proximal, {joint: options.held_deg}, ())


KIND = Kind("toy_gutter", ToyGutterOptions, build)
