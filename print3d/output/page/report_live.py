"""The part of the report that can be turned.

There are controls that a script wakes up, and what stands there without one.
"""

from collections.abc import Sequence

import numpy as np

from print3d.forms.orthosis import part_name
from print3d.language.catalogue import Language, number, text
from print3d.output.page.html import Html, joined, tag
from print3d.output.pictures.colour_scale import HEX
from print3d.output.pictures.joint_chain import FreeJoint
from print3d.output.pictures.scene import ON_SKIN, Scale, Scene

LOOKS = ("dorsal", "volar", "radial", "ulnar", "tip")
TICKS = 5
"""Numbers beside a colour scale; own choice."""


def live_part(scene: Scene, language: Language, still: Sequence[Html]) -> Html:
    """Return the stage with its controls, hidden until the script has drawn, and the picture that stands there before."""
    stage = tag(
        "div",
        id="stage",
        class_="stage",
        tabindex="0",
        role="application",
        aria_label=text("report.live.stage", language),
    )
    picture = tag("div", stage, tag("div", class_="cross", aria_hidden="true"), tag("div", id="mm-bar", class_="mm-bar", aria_hidden="true"), class_="frame")  # fmt: skip
    value = tag("p", id="value", class_="value", role="status")
    scales = [scale_legend(name, scale, language) for name, scale in scene.scales.items()]
    left = tag("div", picture, value, *scales, tag("p", text("report.live.keys", language), class_="small"), class_="view")  # fmt: skip
    controls = tag("details", tag("summary", text("report.live.controls", language)), looks_control(language), maps_control(list(scene.scales), language), limb_control(language, 100), _parts(scene, language),
                   _joints(scene, language), class_="controls", open=True)  # fmt: skip
    note = tag("p", text("report.live.rounded", language), class_="small")
    return joined(
        [
            tag("div", *still, tag("p", text("report.live.none", language), class_="small"), id="no-live"),
            tag("div", tag("div", left, controls, class_="columns"), note, id="live-3d", hidden=True),
        ]
    )


def looks_control(language: Language) -> Html:
    """Return a button for each side to look from."""
    buttons = [
        tag("button", text(f"report.live.look_{each}", language), type="button", data_look=each) for each in LOOKS
    ]  # fmt: skip
    return _fieldset("look", language, tag("div", *buttons, class_="buttons"))


def maps_control(maps: Sequence[str], language: Language, first: str = "none") -> Html:
    """Return a choice between maps, by name, and none; `first` is shown at first."""
    choices = [
        tag("label", tag("input", type="radio", name="map", value="" if each == "none" else each, checked=each == first),
            f" {text(f'report.live.map_{each}', language)}")
        for each in ("none", *maps)
    ]  # fmt: skip
    return _fieldset("map", language, *choices)


def limb_control(language: Language, percent: int) -> Html:
    """Return a slider for how opaque the limb is, and how it is at first."""
    slider = tag("input", type="range", id="limb-opacity", min="0", max="100", value=str(percent))
    return tag("div", tag("label", text("report.live.limb", language), for_="limb-opacity"), slider, class_="slider")  # fmt: skip


def _parts(scene: Scene, language: Language) -> Html:
    names = [body.name for body in scene.of_role("part")]
    if len(names) < 2:
        return Html("")
    boxes = [
        tag(
            "label",
            tag("input", type="checkbox", name="part", value=each, checked=True),
            f" {part_name(each).said(language)}",
        )
        for each in names
    ]
    return _fieldset("parts", language, *boxes)


def _joints(scene: Scene, language: Language) -> Html:
    if not scene.hinges:
        return Html("")
    fingers = list(dict.fromkeys(hinge.ray for hinge in scene.hinges))
    sliders = [_slider(hinge, language) for hinge in scene.hinges]
    if len(fingers) > 1:
        each = tag("details", tag("summary", text("report.live.each_finger", language)), *sliders)
        sliders = [*_sliders_for_all(scene.hinges, language), each]
    reset = tag("button", text("report.live.reset", language), type="button", id="joints-reset")
    note = tag("p", text("report.live.joints_note", language), class_="small")
    return _fieldset("joints", language, *sliders, reset, note)


def _slider(hinge: FreeJoint, language: Language) -> Html:
    finger = f"{text(f'common.finger.{hinge.ray}', language)}, " if hinge.ray else ""
    name = finger + text("report.live.joint_slider", language, joint=hinge.joint.upper(), from_deg=hinge.from_deg, to_deg=hinge.to_deg)  # fmt: skip
    result = text("report.live.joint_result", language, free_deg=hinge.free_to_deg, to_deg=hinge.to_deg)
    key = f"joint-{hinge.key}"
    slider = tag("input", type="range", id=key, data_joint=hinge.key, min=f"{hinge.from_deg:g}", max=f"{hinge.to_deg:g}",
                 step="1", value=f"{hinge.built_deg:g}")  # fmt: skip
    return tag("div", tag("label", name[:1].upper() + name[1:], for_=key), slider, tag("output", for_=key),
               tag("span", result, class_="small"), class_="slider")  # fmt: skip


def _sliders_for_all(hinges: Sequence[FreeJoint], language: Language) -> list[Html]:
    """One slider for each joint of all fingers together."""
    sliders = []
    for joint in dict.fromkeys(hinge.joint for hinge in hinges):
        those = [hinge for hinge in hinges if hinge.joint == joint]
        low, high = min(each.from_deg for each in those), max(each.to_deg for each in those)
        built = round(float(np.mean([each.built_deg for each in those])))
        name = text("report.live.joint_slider", language, joint=joint.upper(), from_deg=low, to_deg=high)
        key = f"all-{joint}"
        slider = tag("input", type="range", id=key, data_all=joint, data_built=str(built), min=f"{low:g}", max=f"{high:g}",
                     step="1", value=str(built))  # fmt: skip
        label = tag("label", f"{text('report.live.all_fingers', language)}: {name}", for_=key)
        sliders.append(tag("div", label, slider, tag("output", f"{built}°", for_=key), class_="slider"))
    return sliders


def scale_legend(name: str, scale: Scale, language: Language) -> Html:
    """Return the colour scale of a map with its numbers as text, lowest first."""
    values = np.linspace(scale.low, scale.high, TICKS)
    ticks = tag(
        "div",
        *(tag("span", number(value, language, decimals=scale.decimals)) for value in values),
        class_="ticks",
    )
    bar = tag("div", class_="bar", style=f"background:linear-gradient(to right,{','.join(scale.stops or (f'#{each}' for each in HEX))})")  # fmt: skip
    words = [text(f"report.live.{name}_scale", language)]
    if name == "wall":
        words.append(text("report.live.no_value_scale", language))
    if name == ON_SKIN:
        words.append(text("report.live.no_pressure_scale", language))
    if scale.limit is not None:
        key = "least" if scale.sense == "at least" else "most"
        words.append(text(f"report.live.limit_scale_{key}", language, limit=scale.limit, unit=scale.unit))
    return tag("div", bar, ticks, tag("p", "; ".join(words), class_="small"), class_="scale", data_scale=name, hidden=True)  # fmt: skip


def _fieldset(name: str, language: Language, *children: Html) -> Html:
    return tag("fieldset", tag("legend", text(f"report.live.{name}", language)), *children)
