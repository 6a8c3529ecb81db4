"""Which old code page a text was written in, told by words that its languages can and cannot have.

A byte of an old code page is one letter in one page and another letter, or a sign, in the next:
``mięso`` of a Polish spreadsheet reads ``miêso`` in the Western page. No statistics of letters is
asked, for a diary has few words: a page is possible when every word beyond ASCII that it gives
keeps to the spelling of German, French, Spanish, English or Polish. Where two are possible and
differ, the person is asked.

The rules of spelling are general knowledge, without a source of their own: Polish writes ń, ć, ś
and ź only before a consonant or at the end, and begins no word with ą, ę or ń; Spanish writes ñ
only before a vowel; French has ê only before a consonant and begins no word with ï, û or ÿ; ß
follows a vowel. The pages are those of Python's ``codecs``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

WINDOWS: Final = (("windows-1252", "western"), ("windows-1250", "polish"))
"""What spreadsheets on Windows write; one of these where possible."""

OTHERS: Final = (
    ("iso-8859-2", "polish"),
    ("cp852", "polish"),
    ("mac_latin2", "polish"),
    ("cp850", "western"),
    ("mac_roman", "western"),
    ("iso-8859-15", "western"),
)
"""Pages of MS-DOS (``CSV (MS-DOS)``), of old Macs (``CSV (Macintosh)``) and of Unix."""

_WORD: Final = re.compile(r"[^\s;,|\"()\[\]/=+]*[^\x00-\x7f][^\s;,|\"()\[\]/=+]*")
_LETTERS: Final = re.compile(r"[^\W\d_ªº½¼¾²³¹]+")
_ALPHABETS: Final = {
    "western": (
        frozenset("äöüß"),
        frozenset("àâçéèêëîïôœùûüÿ"),
        frozenset("áéíóúüñ"),
    ),
    "polish": (frozenset("ąćęłńóśźż"),),
}
_SIGNS: Final = frozenset("€‚„…‘’“”•–—°´·«»±§×µ™†‰©®\xa0\xad¿¡½¼¾²³ªº£¥¢")
_QUESTION: Final = re.compile(r"¿[^?\r\n¿]*\?|¡[^!\r\n¡]*!")
_L: Final = r"[^\W\d_ªº½¼¾²³¹]"
# signs that stand in no word; what is left of them there is a letter of another page
_BETWEEN: Final = re.compile(rf"{_L}[^\w\s’‘·\-.:'&*#%@!?<>~^\\{{}}`$…–—\xad\xa0]+{_L}")
_BEFORE: Final = re.compile(rf"[½¼¾²³¹£¥¢±ªº§¯™©†‰]{_L}{{2}}|[0-9](?![\x00-\x7f]){_L}")
_AFTER: Final = re.compile(
    rf"{_L}[¿¡½¼¾¥¢£¹ª±§‚„©†‰]|(?![nN]){_L}°|(?<!m)[²³]$|(?![\x00-\x7f]){_L}[0-9]"
)
# signs that may stand there, but seldom do: then the other pages are looked at, too
_SELDOM: Final = re.compile(rf"{_L}[–—\xa0…]{_L}|^[–—…™®„«]{_L}|{_L}[®™«»]|^[®™§©«»]$|\d\.?§|^®")
_NEVER: Final = {
    "western": re.compile(
        r"ñ(?![aeiouáéíóúü])|œ(?!u|il|cum|nol|d|stro|soph|tus)|ê(?![bcdfghjlmnpqrstvxz])"
        r"|(?<![aeiouyäöü])ß|\b[ïûÿ]|[äöüàâçéèêëîïôœùûÿáíóúñß]{3}"
    ),
    "polish": re.compile(r"[ńćśź][aeiouyóąę]|\b[ąęń]"),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """A text as one code page gives it.

    ``possible`` when every word can be a word, ``seldom`` when a sign stands within one where few
    people put it.
    """

    encoding: str
    text: str
    possible: bool
    seldom: bool

    def words(self) -> list[str]:
        """Return the words beyond ASCII, in order, each once."""
        return list(dict.fromkeys(_WORD.findall(self.text)))


def readings(data: bytes) -> list[Reading]:
    """Return the ways in which bytes can be read: those of Windows, else those of other pages.

    Equal texts count once, under the page named first. Where no page is possible, what the pages
    of Windows give, not possible.
    """
    windows = [_reading(data, *page) for page in WINDOWS]
    possible = [one for one in windows if one is not None and one.possible]
    if not possible or all(one.seldom for one in possible):
        others = (_reading(data, *page) for page in OTHERS)
        possible += [one for one in others if one is not None and one.possible]
    return _distinct(possible) or [one for one in windows if one is not None]


def differing_words(one: Reading, other: Reading, most: int = 3) -> Iterator[tuple[str, str]]:
    """Yield words that two readings give differently, as each of them has it."""
    found: dict[tuple[str, str], None] = {}
    for here, there in zip(_WORD.finditer(one.text), _WORD.finditer(other.text), strict=False):
        if here[0] != there[0]:
            found[here[0], there[0]] = None
        if len(found) == most:
            break
    yield from found


def _distinct(found: list[Reading]) -> list[Reading]:
    texts: dict[str, Reading] = {}
    for one in found:
        texts.setdefault(one.text, one)
    return list(texts.values())


def _reading(data: bytes, encoding: str, languages: str) -> Reading | None:
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        return None
    words = set(_WORD.findall(text))
    questions = "".join(_QUESTION.findall(text))
    possible = (
        text.count("¿") == questions.count("¿")
        and text.count("¡") == questions.count("¡")
        and all(_possible(word, languages) for word in words)
    )
    seldom = any(map(_SELDOM.search, words))
    return Reading(encoding=encoding, text=text, possible=possible, seldom=seldom)


def _possible(word: str, languages: str) -> bool:
    if any(sign > "\x7f" and not sign.isalpha() and sign not in _SIGNS for sign in word):
        return False
    if _BETWEEN.search(word) or _BEFORE.search(word) or _AFTER.search(word):
        return False
    return all(_spelt(part, languages) for part in _LETTERS.findall(word) if not part.isascii())


def _spelt(word: str, languages: str) -> bool:
    lower = word.lower()
    strange = frozenset(letter for letter in lower if letter > "\x7f")
    if not any(strange <= alphabet for alphabet in _ALPHABETS[languages]):
        return False
    # a capital within a word of small letters: a letter of another page
    if any(c.isupper() and c > "\x7f" for c in word[1:]) and any(c.islower() for c in word):
        return False
    return _NEVER[languages].search(lower) is None
