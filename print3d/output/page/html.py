"""A little HTML: elements whose text is always escaped."""

from collections.abc import Sequence
from html import escape


class Html(str):
    """Text that is HTML already."""

    __slots__ = ()


VOID = frozenset({"img", "input", "meta", "br"})


def tag(element: str, /, *children: str, **attributes: str | bool | float | None) -> Html:
    """Return an element; plain text is escaped.

    An attribute's `_` becomes `-`, one at its end is dropped; True stands alone, None and False are left out.
    """
    written = "".join(
        f" {key.rstrip('_').replace('_', '-')}" + ("" if value is True else f'="{escape(str(value))}"')
        for key, value in attributes.items()
        if value is not None and value is not False
    )
    if element in VOID:
        return Html(f"<{element}{written}>")
    return Html(f"<{element}{written}>{joined(children)}</{element}>")


def joined(children: Sequence[str]) -> Html:
    """Return several pieces one after the other, plain text escaped."""
    return Html("".join(each if isinstance(each, Html) else escape(each) for each in children))


def table(
    caption: str, columns: Sequence[str], rows: Sequence[Sequence[str]], *, class_: str | None = None
) -> Html:
    """Return a table with a caption; the first cell of a row heads it.

    It scrolls sideways by itself where it is too wide.
    """
    head = tag("tr", *(tag("th", each, scope="col") for each in columns))
    body = [
        tag(
            "tr",
            tag("th", row[0], scope="row"),
            *(tag("td", cell, data_label=column) for cell, column in zip(row[1:], columns[1:], strict=True)),
        )
        for row in rows
    ]
    whole = tag("table", tag("caption", caption), tag("thead", head), tag("tbody", *body), class_=class_)
    return tag("div", whole, class_="wide", tabindex="0", role="group", aria_label=caption)


def bullets(items: Sequence[str], *, class_: str | None = None) -> Html:
    """Return a list."""
    return tag("ul", *(tag("li", each) for each in items), class_=class_)
