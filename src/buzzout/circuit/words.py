"""Small grammar of English, for sentences that are put together from parts."""

from __future__ import annotations

from collections.abc import Sequence


def article(word: str) -> str:
    """The word with "a" or "an" before it.

    >>> article("electrolytic"), article("resistor"), article("ECC83"), article("8u can")
    ('an electrolytic', 'a resistor', 'an ECC83', 'an 8u can')
    """
    spelt = word[:1].lower()
    letters = word.split(maxsplit=1)[0] if word.split() else word
    acronym = letters[:2].isupper() and spelt in "aefhilmnorsx"
    vowel = spelt in "aeio8" or (spelt == "u" and not word.lower().startswith(("un", "us", "u ")))
    return f"{'an' if acronym or (vowel and not letters[:2].isupper()) else 'a'} {word}"


def listed(things: Sequence[object], last: str = "and") -> str:
    """`A`, `A and B`, `A, B and C`."""
    words = [str(thing) for thing in things]
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"
