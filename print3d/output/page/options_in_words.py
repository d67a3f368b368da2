"""The options of an orthosis as a therapist reads them.

Each has words, value and unit, and the key of the case file beside.
"""

from collections.abc import Iterator, Mapping

from print3d.language.catalogue import Language, catalogue, text

UNIT_OF = {"mm": "mm", "deg": "°", "n": "N", "nmm": "N mm", "day": "h"}
"""By the last word of a key."""


def unit_sign(unit: str) -> str:
    """Return the unit of a finding as a reader writes it."""
    return {"deg": "°", "percent": "%"}.get(unit, unit)


def option_rows(
    options: Mapping[str, object], language: Language, before: str = ""
) -> Iterator[tuple[str, str, str]]:
    """Yield (words, value, dotted key below [orthosis]) for every option of a case."""
    for key, value in options.items():
        name = f"{before}{key}"
        if isinstance(value, dict):
            yield from option_rows(value, language, f"{name}.")
        else:
            yield option_name(name, language), option_value(name, value, language), name


def option_name(key: str, language: Language) -> str:
    """Return a dotted key in words, its table before it."""
    words = text(f"options.key.{key}", language)
    group = f"options.group.{key.partition('.')[0]}"
    return f"{text(group, language)}: {words}" if "." in key and group in catalogue(language) else words


def option_value(key: str, value: object, language: Language) -> str:
    """Return a value with its unit; names of choices in words."""
    if value is None:
        return text("options.value.left_out", language)
    if isinstance(value, bool):
        return text(f"options.value.{'yes' if value else 'no'}", language)
    if isinstance(value, int | float):
        unit = UNIT_OF.get(key.rpartition("_")[2], "")
        return f"{text('report.asked.number', language, value=float(value))} {unit}".replace(
            " °", "°"
        ).strip()
    for name in (f"options.value.{value}", f"kinds.{value}.name"):
        if name in catalogue(language):
            return text(name, language)
    return str(value)
