"""Finds English in a text that should be of another language: words that only the English catalogue has."""

import re
from functools import cache

from print3d.language.catalogue import Language, catalogue

NO_WORDS = re.compile(r"\w+(?:[._]\w+)+|\w*\d\w*")
"""Keys of a case file, names of files, codes, hashes."""
LATIN = frozenset({"distal", "proximal", "volar", "dorsal"})
WORD = re.compile(r"[^\W\d_]{2,}")
TITLES = re.compile(
    "Brigham and Women's Hospital|Electronic Textbook of Hand Surgery|3MF Core|J Clin Med|J Hand Surg|Hand Ther"
)
"""Names of books, journals, houses and standards stay as they were published."""


@cache
def english_only(language: Language) -> frozenset[str]:
    """Words of the English texts that no text of the other language has; values to be filled in are left out."""
    english, other = (_words_of(each) for each in ("en", language))
    return english - other - LATIN


def english_words(words: str, language: Language = "de") -> list[str]:
    """Return the English words in a text, each with what stands around it."""
    bare = TITLES.sub("", re.sub("&#x27;|&#39;", "'", words).replace("&quot;", '"'))
    bare = NO_WORDS.sub("", bare)
    return [
        bare[max(0, found.start() - 40) : found.end() + 40].replace("\n", " ")
        for found in WORD.finditer(bare)
        if found.group().lower() in english_only(language)
    ]


def _words_of(language: Language) -> frozenset[str]:
    parts = [
        part
        for template in catalogue(language).values()
        for part in ([template] if isinstance(template, str) else template)
    ]
    bare = [NO_WORDS.sub(" ", re.sub(r"{.*?}", " ", part)) for part in parts]
    return frozenset(word.lower() for part in bare for word in WORD.findall(part))
