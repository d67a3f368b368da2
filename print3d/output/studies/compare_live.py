"""Variants side by side in three dimensions: linked views with one map, one scale, and the difference to the best.

Without scripts or WebGL the pictures of the variants stand there instead, and they are what is printed.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from print3d.built import Built
from print3d.geometry.mesh import joined as as_one
from print3d.geometry.nearest import Surface
from print3d.language.catalogue import Language, text
from print3d.output.mesh.thinning import thinned
from print3d.output.page.html import Html, joined, tag
from print3d.output.page.report import viewer_scripts
from print3d.output.page.report_live import limb_control, looks_control, maps_control, scale_legend
from print3d.output.pictures.colour_scale import even_range
from print3d.output.pictures.of_case import wearer_of
from print3d.output.pictures.scene import Scale, Scene, SceneBody, build_scene
from print3d.output.pictures.views import views_picture, webp
from print3d.output.studies.difference import LEAST_SCALE_MM, SHADE
from print3d.output.studies.page import figure_html
from print3d.output.studies.words import variant_title
from print3d.studies.compare import ComparedVariant

MOST_FACES = 64_000
"""Triangles of the parts of all variants together: with those of limbs a page of four forearm shells stays below 3 MB."""
LIMB_FACES = 20_000
"""Triangles of the limbs of all variants together."""
MAPS = ("wall", "gap", "difference")
STOPS = 15
"""Colours of a scale between which the page interpolates; own choice."""


def live_views(shown: Sequence[tuple[ComparedVariant, Built]]) -> str:
    """Return the HTML of variants side by side: linked views, their controls, pictures for where nothing can be turned."""
    language = shown[0][1].case.header.language if shown else "en"
    scenes = variant_scenes([built for _, built in shown])
    still = tag(
        "details",
        tag("summary", text("report.live.still", language)),
        tag("div", *(_picture(row, built, language) for row, built in shown), class_="pair"),
        id="still",
        open=True,
    )
    if not scenes:
        return still
    names = list(dict.fromkeys(name for scene in scenes for name in scene.scales))
    scales = [scale_legend(name, _of_any(scenes, name), language) for name in names]
    live = tag(
        "div",
        tag("div", looks_control(language), maps_control(names, language, "wall"), limb_control(language, 45), class_="bar-of-controls"),
        tag("div", *scales),
        tag("div", *(_stage(row, number, language) for number, (row, _) in enumerate(shown)), class_="pair"),
        tag("p", text("report.live.keys", language), class_="small"),
        id="live-3d",
        hidden=True,
    )  # fmt: skip
    return joined([live, still, *viewer_scripts(scenes, language, "compare")])


def variant_scenes(variants: Sequence[Built]) -> list[Scene]:
    """Return a scene for each variant, at rest, with wall, gap and difference at scales that all of them share.

    The difference is the signed distance, mm, from a variant's vertices to the first one, of the first one to the second:
    positive where it stands out beyond the other. Variants of another hand or side have none.
    """
    scenes = [_at_rest(built, len(variants)) for built in variants]
    surfaces = [Surface(as_one(list(each.meshes.values()))) for each in variants[:2]]
    compared = []
    for number, (scene, built) in enumerate(zip(scenes, variants, strict=True)):
        other = 0 if number else 1
        is_alike = other < len(variants) and built.case.measured == variants[other].case.measured
        compared.append(_with_difference(scene, surfaces[other]) if is_alike else scene)
    scales = {name: scale for name in MAPS if (scale := _shared_scale(name, compared)) is not None}
    return [replace(scene, scales=scales) for scene in compared]


def _at_rest(built: Built, n_variants: int) -> Scene:
    """The scene of one variant of several, without joints that move."""
    scene = build_scene(built, most_faces=MOST_FACES // n_variants)
    parts = [replace(body, chain=(), drift=None) for body in scene.of_role("part")]
    limb = as_one([body.mesh for body in scene.of_role("skin", "still")])
    still = SceneBody("limb", "still", thinned(limb, LIMB_FACES // n_variants))
    return replace(scene, bodies=(*parts, still), hinges=())


def _with_difference(scene: Scene, other: Surface) -> Scene:
    def changed(body: SceneBody) -> SceneBody:
        if body.role != "part":
            return body
        return replace(body, fields={**body.fields, "difference": other.signed(body.mesh.vertices)})

    return replace(scene, bodies=tuple(changed(body) for body in scene.bodies))


def _shared_scale(name: str, scenes: Sequence[Scene]) -> Scale | None:
    """One scale for the values of all variants; that of differences is even about 0, its colours go both ways."""
    found = [body.fields[name] for scene in scenes for body in scene.of_role("part") if name in body.fields]
    if not found:
        return None
    values = np.concatenate(found)
    if name != "difference":
        return Scale(*even_range(values, least_span=1.0, anchor=0.0 if name == "gap" else None))
    span = max(round(float(np.percentile(np.abs(values), 99.5)), 2), LEAST_SCALE_MM)
    return Scale(-span, span, stops=_both_ways())


def _both_ways() -> tuple[str, ...]:
    """Red, white, blue as the difference picture has them."""
    from matplotlib import colormaps
    from matplotlib.colors import to_hex

    colours = SHADE * colormaps["RdBu"](np.linspace(0.0, 1.0, STOPS))[:, :3]
    return tuple(to_hex(colour) for colour in colours)


def _of_any(scenes: Sequence[Scene], name: str) -> Scale:
    return next(scene.scales[name] for scene in scenes if name in scene.scales)


def _name(row: ComparedVariant, language: Language) -> str:
    return text(
        "studies.compare.named", language, number=row.number, title=variant_title(row.variant, language)
    )


def _stage(row: ComparedVariant, number: int, language: Language) -> Html:
    label = f"{_name(row, language)}. {text('report.live.stage', language)}"
    stage = tag("div", class_="stage", tabindex="0", role="application", aria_label=label)
    cross, bar = (
        tag("div", class_="cross", aria_hidden="true"),
        tag("div", class_="mm-bar", aria_hidden="true"),
    )
    value = tag("p", class_="value", role="status")
    caption = tag("figcaption", _name(row, language))
    return tag(
        "figure", caption, tag("div", stage, cross, bar, class_="frame"), value, data_variant=str(number)
    )


def _picture(row: ComparedVariant, built: Built, language: Language) -> Html:
    parts = list(built.meshes.values())
    title = text("studies.compare.number", language, number=row.number)
    picture = views_picture(parts, wearer_of(built), title=title, side=built.side, language=language)
    return Html(figure_html(webp(picture), _name(row, language), kind="webp"))
