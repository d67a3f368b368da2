"""The report of a case: one HTML file that opens, reads and prints anywhere, without a network, scripts or 3D.

A reader meets, in this order: verdict, what is held and free, straps and print, the orthosis in three dimensions, cautions, what needs a
second look, pictures, every finding, measurements, what was asked for, how it is printed. Scripts add the three dimensions and fold nothing
that is not folded without them.
"""

import base64
import json
from collections.abc import Mapping, Sequence
from importlib.resources import files

from print3d import __version__
from print3d.built import Built
from print3d.forms.orthosis import part_name
from print3d.inputs.case import canonical_data
from print3d.language.catalogue import Language, decimal_mark, lines, text
from print3d.output.page.html import Html, bullets, joined, table, tag
from print3d.output.page.options_in_words import option_rows
from print3d.output.page.report_findings import (
    SIGN,
    State,
    by_urgency,
    findings_part,
    has_room,
    in_short,
    state_of,
)
from print3d.output.page.report_glance import glance_part
from print3d.output.page.report_live import live_part
from print3d.output.page.report_measures import measures_part
from print3d.output.page.scene_pack import packed
from print3d.output.pictures.colour_scale import HEX
from print3d.output.pictures.of_case import scene_of
from print3d.output.pictures.scene import Scene
from print3d.output.pictures.views import webp
from print3d.output.title import title_of
from print3d.printing.plan import PrintPlan

POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'"
"""A browser then asks for nothing from anywhere, whatever the page says."""
PARTS = ("attention", "pictures", "findings", "measures", "asked", "printing", "reading")
CLOSEST = 3
"""Findings nearest to their limits that are named where all hold; own choice."""


def report_page(built: Built, pictures: Mapping[str, bytes]) -> str:
    """Return the page: the same text for the same case.

    pictures : name -> PNG, in the order in which they stand on the page
    """
    language, scene = built.case.header.language, scene_of(built)
    figures = _figures(pictures, language)
    sections = {
        "attention": _attention(built),
        "pictures": tag("div", *figures[1:], class_="figures"),
        "findings": findings_part(built.findings, language, built.advice),
        "measures": measures_part(built.case, built.modelled, language),
        "asked": _asked(built),
        "printing": _printing(built),
        "reading": bullets(lines("report.reading.lines", language)),
    }
    main = [
        tag("section", tag("h2", text(f"report.part.{name}", language), id=f"{name}-head"), sections[name],
            id=name, aria_labelledby=f"{name}-head")
        for name in PARTS
    ]  # fmt: skip
    body = tag(
        "body",
        tag("a", text("report.skip", language), href="#findings", class_="skip"),
        _header(built),
        tag("main", _first(built, live_part(scene, language, figures[:1])), _contents(language), *main),
        _footer(language),
        *viewer_scripts([scene], language, "report"),
    )
    return f"<!DOCTYPE html>\n{tag('html', _head(title_of(built.case)), body, lang=language)}\n"


def asset(name: str) -> str:
    """Return a text file that ships beside the viewer."""
    return files("print3d.output.page").joinpath("viewer", name).read_text(encoding="utf-8")


def _head(title: str) -> Html:
    return tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", http_equiv="Content-Security-Policy", content=POLICY),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("title", title),
        tag("style", Html(asset("stage.css") + asset("report.css"))),
    )


def _header(built: Built) -> Html:
    head = built.case.header
    return tag(
        "header", tag("h1", title_of(built.case)), tag("p", head.note, class_="note") if head.note else ""
    )


def _first(built: Built, live: Html) -> Html:
    """Return what stands on the first screen: the verdict and what it is about, the orthosis, then the cautions."""
    language, state = built.case.header.language, state_of(built.findings)
    return tag(
        "div",
        tag("div", _verdict(built, state), glance_part(built), class_="told"),
        tag("section", tag("h2", text("report.part.live", language), id="live-head", class_="unseen"), live,
            id="live", aria_labelledby="live-head"),
        tag("section", tag("p", text(f"report.verdict.{state}_note", language)),
            tag("h2", text("report.part.cautions", language), id="cautions-head"),
            bullets(lines("cautions.all", language)), class_="cautions", aria_labelledby="cautions-head"),
        class_="first",
    )  # fmt: skip


def _verdict(built: Built, state: State) -> Html:
    failed = sum(not finding.holds for finding in built.findings)
    watched = sum(finding.is_watched for finding in built.findings)
    verdict = text(
        f"report.verdict.{state}",
        built.case.header.language,
        failed=failed,
        watched=watched,
        count=len(built.findings),
    )
    return tag("p", tag("strong", f"{SIGN[state]} {verdict}"), class_=f"verdict {state}")


def _contents(language: Language) -> Html:
    links = [tag("li", tag("a", text(f"report.part.{name}", language), href=f"#{name}")) for name in PARTS]
    return tag("nav", tag("ul", *links), aria_label=text("report.contents", language))


def _footer(language: Language) -> Html:
    made = text("report.made_by", language, version=__version__)
    return tag("footer", tag("p", f"{made}. {text('report.printing.files', language)}"))


def _attention(built: Built) -> Html:
    language, override = built.case.header.language, built.case.override
    ordered = by_urgency(built.findings)
    failing = [finding for finding in ordered if not finding.holds]
    watched = [finding for finding in ordered if finding.is_watched]
    near = [] if failing or watched else [each for each in ordered[:CLOSEST] if has_room(each)]
    blocks: list[tuple[str, Sequence[str]]] = [
        ("failing", [in_short(each, language) for each in failing]),
        ("watched", [in_short(each, language) for each in watched]),
        ("closest", [in_short(each, language) for each in near]),
        ("override", [] if override is None else [
            text("report.attention.override_line", language, names=", ".join(override.allow), reason=override.reason)]),
        ("measure_again", [each.said(language) for each in built.warnings]),
        ("look_twice", [each.said(language) for each in built.remarks]),
    ]  # fmt: skip
    return joined(
        [
            joined([tag("h3", text(f"report.attention.{name}", language)), bullets(items)])
            for name, items in blocks
            if items
        ]
    )


def _figures(pictures: Mapping[str, bytes], language: Language) -> list[Html]:
    figures = list[Html]()
    for name, picture in pictures.items():
        words = text(f"report.picture.{name}", language)
        source = f"data:image/webp;base64,{base64.b64encode(webp(picture)).decode()}"
        image = tag("img", src=source, alt=words, loading="lazy" if figures else None)
        figures.append(tag("figure", image, tag("figcaption", words)))
    return figures


def _asked(built: Built) -> Html:
    language = built.case.header.language
    rows = [
        (joined([words, tag("code", key)]), value)
        for words, value, key in option_rows(canonical_data(built.case)["orthosis"], language)
    ]
    columns = [text(f"report.asked.{name}", language) for name in ("what", "value")]
    return table(text("report.part.asked", language), columns, rows, class_="pairs")


def _printing(built: Built) -> Html:
    language = built.case.header.language
    parts = [
        text("report.printing.triangles", language, name=part_name(name).said(language), triangles=len(mesh.faces), volume=mesh.volume_mm3() / 1000.0)
        for name, mesh in built.meshes.items()
    ]  # fmt: skip
    rows = [
        (text("report.printing.material", language), built.case.material_name.said(language)),
        (text("report.printing.printer", language), built.case.printer_name.said(language)),
        (text("report.printing.parts", language), "; ".join(parts)),
        *(row for plan in built.plans for row in plan_rows(plan, language, is_alone=len(built.plans) == 1)),
    ]
    columns = [text(f"report.asked.{name}", language) for name in ("what", "value")]
    return table(text("report.part.printing", language), columns, rows, class_="pairs")


def plan_rows(plan: PrintPlan, language: Language, *, is_alone: bool) -> list[tuple[str, str]]:
    """Return the print plan of a part in words: position, mass, time, strength."""
    x, y, z = plan.size_mm
    position = plan.position(language)
    kind = (
        "alone"
        if plan.supports.volume_mm3 == 0.0
        else "marks"
        if plan.supports.skin_mm2 >= 0.5
        else "supports"
    )
    told = {
        "position": text("report.printing.plan", language, position=position, x=x, y=y, z=z, layers=plan.layers),
        "mass": text(f"report.printing.mass_{kind}", language, mass_g=plan.mass_g, support_g=plan.support_mass_g,
                     area_mm2=plan.supports.skin_mm2),
    }  # fmt: skip
    if plan.seconds is not None:
        hours, minutes = divmod(round(plan.seconds / 60.0), 60)
        told["time"] = text("report.printing.hours", language, hours=hours, minutes=minutes)
    told["strength"] = text("report.printing.percent", language, share=100.0 * plan.strength)
    before = "" if is_alone else f"{part_name(plan.part).said(language)}: "
    return [(before + text(f"report.printing.{name}", language), value) for name, value in told.items()]


def viewer_scripts(scenes: Sequence[Scene], language: Language, start: str) -> list[Html]:
    """Return the elements that carry scenes, the viewer's words and the viewer, and start one of its pages ("report", "compare")."""
    words = {
        "scale": [f"#{colour}" for colour in HEX],
        "maps": {
            name: {"name": text(f"report.live.map_{name}", language), "unit": scale.unit, "decimals": scale.decimals}
            for scene in scenes for name, scale in scene.scales.items()
        },
        "mark": decimal_mark(language),
        "parts": {body.name: part_name(body.name).said(language) for scene in scenes for body in scene.of_role("part")}
        | {"limb": text("report.live.skin", language)},
        **{key: text(f"report.live.{key}", language)
           for key in ("free", "blocked", "point", "no_value", "show_place", "marked")},
    }  # fmt: skip
    return [
        tag("script", Html(_in_script(json.dumps(words, ensure_ascii=False, sort_keys=True))), type="application/json", id="words"),
        *(tag("script", Html(packed(scene)), type="text/plain", class_="scene") for scene in scenes),
        tag("script", Html(_in_script(asset("viewer.js")))),
        tag("script", Html(f"print3dViewer.{start}();")),
    ]  # fmt: skip


def _in_script(source: str) -> str:
    """What must not end the element around it too early."""
    return source.replace("</script", "<\\/script").replace("<!--", "<\\!--")
