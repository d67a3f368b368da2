"""What a study's page says of variants, keys and shares, in the language of its case."""

from print3d.inputs.problems import in_words
from print3d.language.catalogue import Language, catalogue, number, text
from print3d.limb.uncertainty import Source
from print3d.output.page.options_in_words import option_name, option_value
from print3d.studies.outcome import OutcomeColumn
from print3d.studies.sensitivity import Sensitivity
from print3d.studies.variants import Variant

PROGRAMS: Language = "en"
"""Tables and data of a study read the same whatever the language of its case."""


def percent(share: float, language: Language) -> str:
    """Return a share in whole percent."""
    return text("studies.percent", language, value=100.0 * share)


def signed(sign: str, word: str, language: Language) -> str:
    """Return sign and word of a verdict, never parted at the end of a line."""
    return text("studies.signed", language, sign=sign, word=word)


def figure_title(figure: OutcomeColumn, language: Language) -> str:
    """Return what a figure of merit is called, with its unit."""
    return text(f"studies.figure.{figure.name}", language)


def figure_value(figure: OutcomeColumn, value: float | None, language: Language) -> str:
    """Return a figure of merit as a number, or nothing where there is none."""
    return "" if value is None else number(figure.scale * value, language, decimals=figure.decimals)


def key_name(key: str, language: Language) -> str:
    """Return what a key of a case file sets, and the key without [orthosis].

    It is the bare key where no words are known.
    """
    name, short = _name(key, language), key.removeprefix("orthosis.")
    return name if name == short else f"{name} ({short})"


def value_name(key: str, value: object, language: Language) -> str:
    """Return a value of a case file with its unit."""
    material = f"common.material.{value}"
    if material in catalogue(language):
        return text(material, language)
    short = key.removeprefix("orthosis.")
    if isinstance(value, str | int | float) and _has_words(short):
        return option_value(short, value, language)
    return value if isinstance(value, str) else in_words(value)


def variant_title(variant: Variant, language: Language) -> str:
    """Return what was set in a variant."""
    set_to = [
        f"{_name(key, language)} {value_name(key, value, language)}" for key, value in variant.values.items()
    ]
    return "; ".join(set_to) or text("studies.compare.as_in_file", language)


def _name(key: str, language: Language) -> str:
    short = key.removeprefix("orthosis.")
    return option_name(short, language) if _has_words(short) else short


def source_name(source: Source, language: Language) -> str:
    """Return what is not known, and why."""
    return f"{source.words(language)} ({source.words_of_origin(language)})"


def fit_names(result: Sensitivity, language: Language | None = None) -> list[str]:
    """Return what is asked of a fit; None: in the language of the case."""
    return [name.said(language or result.language) for name in result.measured.names]


def _has_words(short: str) -> bool:
    return f"options.key.{short}" in catalogue("en")
