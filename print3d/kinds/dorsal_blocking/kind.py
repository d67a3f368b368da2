r"""Dorsal blocking orthosis: a shell over the back that lets fingers flex and stops their extension.

After flexor tendon repair: wrist, MCP and IP joints cannot extend beyond the set angles, flexion stays free.

    forearm form      from two thirds up the forearm to beyond the fingertips, wrist held
    hand form         from the wrist crease to beyond the fingertips, wrist free

    |‾‾‾‾‾‾‾‾‾‾‾‾‾\____/‾‾‾‾‾‾‾‾‾‾\       radial edge: back at the thumb, so that its base and web stay free
    |  forearm       hand    fingers )
    |_______________________________/     ulnar edge: half the girth all along
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Literal

import numpy as np
import shapely

from print3d.errors import ShapingError
from print3d.forms.clearance import BonyPoint
from print3d.forms.dorsal_outline import ADULT_HAND_MM, dorsal_outline
from print3d.forms.hand_of_case import hand_of_case
from print3d.forms.letters_and_vents import Label
from print3d.forms.limb_of_case import case_label, free_flexion_deg
from print3d.forms.orthosis import Cover, FreeArc, Orthosis, Part, Stop
from print3d.forms.palm_crease import behind_crease_mm
from print3d.forms.split import LAP_MM, Lap, split
from print3d.forms.trough import ForearmPlan, Strap, StrapEnd, build_forearm_part
from print3d.forms.wrist_ribs import FADING_SHARE, rib_lift, rib_zone
from print3d.geometry.bed import fits_bed
from print3d.geometry.frames import apply
from print3d.inputs.case import Case
from print3d.inputs.measured import FINGERS, FingerName
from print3d.inputs.problems import Problem
from print3d.kinds.dorsal_blocking.asked import DorsalBlockingOptions, asked_pose, shell_form
from print3d.kinds.kind import Kind, Wear
from print3d.language.message import Message, in_a_row, message
from print3d.limb.finger import FingerPose
from print3d.limb.hand import HandLimb
from print3d.limb.hand_clearance import extension_deg
from print3d.limb.hand_unrolled import UnrolledHand
from print3d.limb.hand_wrist import DEVIATION, FLEXION
from print3d.limb.joint_id import joints_of
from print3d.limb.nail import back_points, nail_span

USUAL_MCP_DEG = (30.0, 70.0)
"""The usual range covers the published regimens in `data/protocols.toml` but one; outside it a remark asks to look twice."""
SHORT_REGIMEN = {"protocol": "early_active_short"}
"""The hand-based block for a model's pose, as a forearm long enough for the long one fits few beds."""
FOREARM_SHARE = 2.0 / 3.0
"""The trough covers two thirds of the forearm; common practice, no single source."""
STYLOID_RELIEF_MM = 2.0
"""Extra clearance over the ulnar styloid; 1 to 3 mm is common practice, no single source."""
STYLOID_REACH_MM = 16.0
"""Distance over which that clearance fades on an adult; own choice."""
HEAD_RELIEF_MM = 1.0
"""Extra clearance over metacarpal heads; 1 to 3 mm is common practice, no single source."""
HEAD_REACH_MM = 10.0
"""Distance over which that clearance fades on an adult; own choice."""
LAP_BETWEEN = 0.43
"""A shell in two parts laps at this share of the way from the wrist to its proximal end: between the straps of wrist and forearm."""
PALM_SLIDE_MM = 8.0
"""To lie straight, the ulnar slot of the palm strap is moved proximally by this at most on an adult; own choice."""
LITTLE_SHARE = 0.2
"""The strap over the palm has come this share of its way from the ulnar slot where it passes the little finger; measured on a mean hand."""
FINGERS_SLIDE_MM = 12.0
"""The same of the strap over the fingers, distally; own choice."""
WRIST_STRAP_MM = 30.0
"""The wrist strap lies this far proximal of the wrist on an adult; own choice, from the look of a hand."""
BESIDE_EDGE_MM = 6.0
"""A strap's edge stays this far from flare or trim line; own choice."""
BEND_SOLID_MM = 7.0
"""No vents this near the knuckle line and the wrist, where the shell is bent most."""


def build(case: Case, options: DorsalBlockingOptions) -> Orthosis:
    """Build the orthosis of a case.

    Raises InputError if its protocol is unknown, LimbError or ShapingError if hand or options leave no room for it.
    """
    pose = asked_pose(case, options)
    limb = hand_of_case(case, pose)
    form = shell_form(case, options)
    parts = _parts(case, options, _plan(case, options, limb, form))
    freed, stops = _freed(case, pose.fingers), _stops(options, limb)
    laps = ((parts[0].name, parts[1].name),) if len(parts) == 2 else ()
    is_long = form == "forearm"
    held = {FLEXION: pose.wrist_flexion_deg, DEVIATION: pose.wrist_ulnar_deviation_deg} if is_long else {}
    cover = Cover(FINGERS, FOREARM_SHARE if is_long else 0.0, ("thumb",))
    return Orthosis("dorsal_blocking", limb, parts, "hand", held, freed, stops, laps=laps, cover=cover)


def _parts(case: Case, options: DorsalBlockingOptions, plan: ForearmPlan) -> tuple[Part, ...]:
    """The shell in one part, or in two if it is too long for the printer's bed."""
    whole = _whole(case, options, plan)
    if shell_form(case, options) == "hand" or fits_bed(whole.shell.mesh.vertices, case.printer.bed_mm):
        return (whole,)
    middle = LAP_BETWEEN * float(plan.skin.station(plan.outline.bounds[0]))
    lap = Lap(*(float(plan.skin.along(middle + side * LAP_MM / 2.0)) for side in (-1.0, 1.0)))
    over_hand = Label(case_label(case), *_over_hand(plan.skin), plan.label.is_mirrored)
    start, stop = plan.outline.bounds[0], lap.proximal
    on_forearm = replace(plan.label, centre=(0.5 * (start + stop), 0.0), room_mm=0.75 * (stop - start))
    inner, outer = split(replace(plan, label=on_forearm), lap, over_hand)
    return build_forearm_part(inner), build_forearm_part(outer)


def _whole(case: Case, options: DorsalBlockingOptions, plan: ForearmPlan) -> Part:
    """The shell in one part.

    Raises ShapingError that names the deviation if the wrist's hollow side is too sharp with it.
    """
    try:
        return build_forearm_part(plan)
    except ShapingError as folds:
        way = "hollow_with_ribs" if options.wrist_ribs.count else "hollow"
        for key in ("wrist_ulnar_deviation_deg", "wrist_radial_deviation_deg"):
            if (angle := getattr(options, key)) > 0.0:
                wanted = message(f"kinds.dorsal_blocking.refusal.{way}", why=folds.problems)
                raise ShapingError(Problem(f"orthosis.{key}", angle, wanted, str(case.source))) from folds
        raise


def _freed(case: Case, poses: Mapping[FingerName, FingerPose]) -> tuple[FreeArc, ...]:
    arcs = []
    for name, pose in poses.items():
        for joint in joints_of(name):
            start = getattr(pose, f"{joint.joint}_flexion_deg")
            arcs.append(FreeArc(joint, start, max(start, free_flexion_deg(case, joint))))
    return tuple(arcs)


def _stops(options: DorsalBlockingOptions, limb: HandLimb) -> tuple[Stop, ...]:
    stops = []
    for name, ray in limb.rays.items():
        let_through = extension_deg(
            limb, name, options.clearance_mm + options.soft_tissue_compression.stop_mm
        )
        for joint, at in ray.limb.joints.items():
            stops.append(Stop(joint, "extension", at.angle_deg, let_through[joint]))
    return tuple(stops)


# --- where it runs --------------------------------------------------------------------------------------------------


def _plan(
    case: Case, options: DorsalBlockingOptions, limb: HandLimb, form: Literal["forearm", "hand"]
) -> ForearmPlan:
    skin = UnrolledHand(limb)
    proximal = _proximal(limb, form)
    heads = [skin.place(*place) for name, place in limb.bony_points.items() if "head" in name]
    straps = _straps(options, limb, proximal, form) if options.straps.style == "slots" else ()
    start, stop = float(skin.along(proximal)), float(skin.along(0.0))
    ribs = options.wrist_ribs
    full = (1.0 - FADING_SHARE) * ribs.reach_mm / skin.scale(0.0)
    on_forearm = (0.45 * start + 0.55 * stop, 0.0), 0.45 * (stop - start)
    return ForearmPlan(
        name="dorsal_blocking_orthosis",
        skin=skin,
        outline=dorsal_outline(skin, proximal, options.beyond_tips_mm),
        flared_along=start,
        options=options,
        straps=straps,
        bony_points=_bony_points(limb, skin),
        solid_zones=(
            shapely.LineString(heads).buffer(BEND_SOLID_MM),
            shapely.box(-BEND_SOLID_MM, -1e3, BEND_SOLID_MM, 1e3),
            *((rib_zone(skin, ribs),) if ribs.count else ()),
        ),
        label=Label(
            case_label(case),
            *(on_forearm if form == "forearm" else _over_hand(skin)),
            is_mirrored=case.header.side == "left",
        ),
        lifts=(rib_lift(skin, ribs),) if ribs.count else (),
        stiffened_along=(-full, full) if ribs.count else None,
        vented=tuple(_over_nail(limb, skin, name) for name in limb.rays),
    )


def _over_nail(limb: HandLimb, skin: UnrolledHand[HandLimb], finger: FingerName) -> tuple[float, float]:
    """The place over the middle of a nail: a vent there keeps it in sight."""
    tube = limb.rays[finger].limb
    span = nail_span(tube)
    middle = apply(limb.place(finger), back_points(tube, (span.first_mm + span.last_mm) / 2.0, np.zeros(1)))
    station = limb.skin.station_of(finger, (span.first_mm + span.last_mm) / 2.0)
    return skin.place(station, limb.fraction_at(station, float(middle[0, 1])))


def _over_hand(skin: UnrolledHand[HandLimb]) -> tuple[tuple[float, float], float]:
    """Middle and room of a label over the metacarpals."""
    stop = float(skin.along(skin.limb.skin.station_of("ring", 0.0)))
    return (0.45 * stop, 0.0), 0.7 * stop


def _proximal(limb: HandLimb, form: Literal["forearm", "hand"]) -> float:
    """Station of the proximal edge."""
    covered = FOREARM_SHARE * limb.forearm.length_mm if form == "forearm" else 0.6 * limb.wrist_tape_mm
    return limb.skin.wrist_side_station(-covered)


def _straps(options: DorsalBlockingOptions, limb: HandLimb, proximal: float, form: str) -> tuple[Strap, ...]:
    size, widths = limb.hand_length_mm / ADULT_HAND_MM, options.straps
    straps, free = [], 0.0
    if form == "forearm":
        beside_edge = options.flare.length_mm + widths.forearm_width_mm / 2.0 + BESIDE_EDGE_MM
        straps += [
            Strap.across("forearm", proximal + beside_edge, widths.forearm_width_mm),
            Strap.across("wrist", -WRIST_STRAP_MM * size, widths.width_mm),
        ]
    else:
        wrist = proximal + BESIDE_EDGE_MM + widths.width_mm / 2.0
        straps.append(Strap.across("wrist", wrist, widths.width_mm))
        free = wrist + widths.width_mm + 1.5 * options.vents.edge_margin_mm
    straps.append(Strap("palm", _over_palm(limb, widths.width_mm, free), widths.width_mm))
    if widths.fingers_width_mm is not None:
        pip = limb.skin.station_of("little", limb.rays["little"].limb.landmarks["pip"])
        straps.append(Strap.across("fingers", pip, widths.fingers_width_mm, FINGERS_SLIDE_MM * size))
    return tuple(straps)


def _over_palm(limb: HandLimb, width_mm: float, free: float) -> tuple[StrapEnd, StrapEnd]:
    """Ulnar and radial end of the strap over the palm, which runs proximal of the crease and as oblique.

    free : station from which on there is room for its middle
    """
    slide = PALM_SLIDE_MM * limb.hand_length_mm / ADULT_HAND_MM
    little, index = (
        limb.skin.wrist_side_station(behind_crease_mm(limb, name)) - width_mm / 2.0
        for name in ("little", "index")
    )
    ulnar = max((little - LITTLE_SHARE * index) / (1.0 - LITTLE_SHARE), free)
    return StrapEnd(ulnar, -min(slide, ulnar - free)), StrapEnd(max(index, free))


def _bony_points(limb: HandLimb, skin: UnrolledHand[HandLimb]) -> tuple[BonyPoint, ...]:
    size = limb.hand_length_mm / ADULT_HAND_MM
    return tuple(
        BonyPoint(skin.place(*place), STYLOID_RELIEF_MM, STYLOID_REACH_MM * size)
        if name == "ulnar styloid"
        else BonyPoint(skin.place(*place), HEAD_RELIEF_MM, HEAD_REACH_MM * size)
        for name, place in limb.bony_points.items()
    )


def remarks(case: Case, options: DorsalBlockingOptions) -> list[Message]:
    """Return a remark for MCP angles outside the usual range."""
    low, high = USUAL_MCP_DEG
    outside = {
        name: pose.mcp_flexion_deg
        for name, pose in asked_pose(case, options).fingers.items()
        if not low <= pose.mcp_flexion_deg <= high
    }
    if not outside:
        return []
    angles = [
        message(
            "kinds.dorsal_blocking.remark.finger", finger=message(f"common.finger.{name}"), angle_deg=angle
        )
        for name, angle in outside.items()
    ]
    return [message("kinds.dorsal_blocking.remark.mcp", angles=in_a_row(angles), low_deg=low, high_deg=high)]


def explicit(case: Case, options: DorsalBlockingOptions) -> DorsalBlockingOptions:
    """Return the options with form and angles of its regimen written out.

    A change of the regimen then does not change them.
    """
    pose = asked_pose(case, options)
    angles: dict[str, float | None] = {
        "wrist_flexion_deg": max(pose.wrist_flexion_deg, 0.0) or None,
        "wrist_extension_deg": max(-pose.wrist_flexion_deg, 0.0) or None,
        "mcp_flexion_deg": pose.fingers["middle"].mcp_flexion_deg,
        "ip_flexion_deg": pose.fingers["middle"].pip_flexion_deg,
        **{f"{name}_mcp_flexion_deg": each.mcp_flexion_deg for name, each in pose.fingers.items()},
    }
    return options.model_copy(update={"protocol": None, "form": shell_form(case, options), **angles})


def hours(_case: Case, _options: DorsalBlockingOptions) -> Wear:
    """Return the usual hours."""
    return Wear(24.0, message("kinds.dorsal_blocking.hours.usual"))


KIND = Kind(
    "dorsal_blocking",
    DorsalBlockingOptions,
    build,
    remarks,
    explicit,
    takes_all_fingers=True,
    answers={"flexor_repair": SHORT_REGIMEN},
    hours=hours,
)
