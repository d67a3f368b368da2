"""One page of its own: everything it shows is inside the file, so that it can be mailed and printed."""

import base64
import re
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Literal

from print3d import __version__
from print3d.language.catalogue import Language, lines, text
from print3d.output.page.html import Html
from print3d.output.page.report import POLICY

STYLE = """
:root { color-scheme: light; }
body { font: 15px/1.45 system-ui, sans-serif; color: #1e2228; margin: 0 auto; padding: 1.5rem; max-width: 1400px; }
h1 { font-size: 1.5rem; margin: 0 0 .6rem; } h2 { font-size: 1.15rem; margin: 2rem 0 .6rem; }
table { border-collapse: collapse; width: 100%; font-size: .88rem; }
th, td { text-align: left; vertical-align: top; padding: .35rem .6rem; border-bottom: 1px solid #d9dde2; }
th { background: #f2f4f6; } td.number { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
tr.best { background: #e6f3ea; font-weight: 600; } tr.x td { color: #8c2f24; }
.caution { border-left: 4px solid #b9770e; background: #fdf6e8; padding: .5rem .9rem; margin: 1rem 0; }
.verdict { font-size: 1.1rem; font-weight: 600; }
figure { margin: 1rem 0; } figure img { max-width: 100%; } figcaption { color: #4d5661; font-size: .88rem; }
.pair { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 28rem), 1fr)); gap: 1rem; }
.wide { overflow-x: auto; } .wide img { min-width: 40rem; }
@media print { body { max-width: none; padding: 0; } .wide img { min-width: 0; } figure { break-inside: avoid; } }
"""
NUMBER = re.compile(r"-?\d+(?:[.,]\d+)?(?:\s?(?:%|mm|°))?")
"""A cell that stands to the right: a number with its unit, as any language writes it."""


def page(title: str, sections: Sequence[str], language: Language, style: str = "") -> str:
    """Return a whole page; sections are HTML, `style` what they need of their own."""
    cautions = "".join(f"<p>{escape(caution)}</p>" for caution in lines("cautions.all", language))
    return (
        f'<!DOCTYPE html>\n<html lang="{language}"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f'<meta http-equiv="Content-Security-Policy" content="{escape(POLICY)}">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><style>{STYLE}{style}</style></head>\n<body>\n'
        f'<header><h1>{escape(title)}</h1>\n<div class="caution">{cautions}</div></header>\n<main>\n'
        + "\n".join(f"<section>{section}</section>" for section in sections)
        + f"\n</main><footer><p>print3d {escape(__version__)}</p></footer>\n</body></html>\n"
    )


@dataclass(frozen=True)
class TableRow:
    """A row of a table and how it looks: "best", "x" (fails) or plain."""

    cells: Sequence[str]
    look: Literal["", "best", "x"] = ""


def table_html(head: Sequence[str], rows: Sequence[TableRow], language: Language) -> str:
    """Return a table."""
    columns = "".join(f'<th scope="col">{escape(each)}</th>' for each in head)
    body = "\n".join(f'<tr class="{row.look}">{"".join(map(_cell, row.cells))}</tr>' for row in rows)
    table = f"<table><thead><tr>{columns}</tr></thead>\n<tbody>{body}</tbody></table>"
    return _wide(table, text("studies.table", language))


def figure_html(picture: bytes, caption: str, kind: Literal["png", "webp"] = "png") -> str:
    """Return a picture with its caption."""
    source = f"data:image/{kind};base64," + base64.b64encode(picture).decode()
    said = escape(caption)
    return f'<figure><img src="{source}" alt="{said}"><figcaption>{said}</figcaption></figure>'


def chart_html(picture: bytes, caption: str, kind: Literal["png", "webp"] = "png") -> str:
    """Return a chart with its caption.

    On a narrow screen it scrolls sideways, so that its words can still be read.
    """
    return _wide(figure_html(picture, caption, kind), caption)


def _wide(html: str, label: str) -> str:
    return f'<div class="wide" tabindex="0" role="group" aria-label="{escape(label)}">{html}</div>'


def _cell(words: str) -> str:
    if isinstance(words, Html):
        return f"<td>{words}</td>"
    look = ' class="number"' if NUMBER.fullmatch(words) else ""
    return f"<td{look}>{escape(words)}</td>"
