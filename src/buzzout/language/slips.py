"""Lines that cannot be parsed, explained in words of the trade, with the likely fix."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable

from lark.exceptions import UnexpectedCharacters, UnexpectedEOF, UnexpectedInput, UnexpectedToken

from buzzout.circuit import NotAQuantity, Span, parse
from buzzout.language.problems import Problem

# What a statement can begin with, for "did you mean". Names of parts come before PART_KINDS.
PART_KINDS = "resistor capacitor electrolytic diode bridge inductor thermistor neon".split()
QUOTES = '"“”'
FIRST_WORDS = (
    "reference found departures of date mains include default note photo by socket fitted strip"
    " board pot switch jack transformer winding choke can fuse lamp speaker connector cord bond"
    " wire node at nothing heaters block use end expect reads step set tone add remove"
    " change move lift join cut"
).split()
COLOURS = "black brown red orange yellow green blue violet grey white gold silver pink none".split()
# Words that people type for ours.
SYNONYMS = {
    "cap": "capacitor",
    "res": "resistor",
    "tube": "socket",
    "valve": "socket",
    "potentiometer": "pot",
    "rectifier": "diode",
    "ground": "chassis",
    "tagstrip": "strip",
    "turretboard": "board",
    "lead": "wire",
    "cable": "cord",
    "plug": "cord",
    "earth": "bond",
    "indicator": "lamp",
    "bulb": "lamp",
    "coil": "inductor",
    "delete": "remove",
    "see": "at",
}
# How a piece of furniture is written, where nothing tells better what was meant.
FORMS = {
    "strip": "as in: strip TS1 12 tags earthed 3",
    "board": "as in: board TB1 20 turrets",
    "pot": "as in: pot P1 500k log; tapped, ganged, switched may follow",
    "switch": "as in: switch S1 on-off, switch S1 2 poles on-off, switch S2 2 poles 3 ways set 1",
    "winding": "as in: winding T1 ht red1 ry red2 270-0-270V 80mA dcr 120R+125R",
    "can": "as in: can C20 square 32u 450V triangle 16u 450V",
    "fuse": "as in: fuse F1 1A slow",
    "connector": "as in: connector SK1 4 pins",
    "cord": "as in: cord M1 L brown N blue E green/yellow",
    "heaters": "as in: heaters V1 V2 from T1.h1 T1.h2",
    "mains": "as in: mains 230 V 50 Hz region UK",
    "set": "as in: set P6 25%",
    "use": "as in: use STAGE as left in V1.2 out V1.1",
}
# What a terminal of the grammar stands for, where that is a few words of ours.
MEANT = {
    "SPEED": ["slow", "fast", "quick"],
    "TAPER": ["log", "lin", "antilog"],
    "TAP": ["tapped"],
    "GANGED": ["ganged"],
    "WITH_SWITCH": ["switched", "double-switched"],
    "ON_OFF": ["on-off"],
    "PLACES": ["tags", "turrets", "eyelets", "lugs"],
    "PINS": ["pins"],
    "POLES": ["poles"],
    "WAYS": ["ways"],
    "CONTACT": ["tip", "ring", "sleeve", "break", "break-ring"],
    "STYLE": (
        "carbon composition film metal-oxide wirewound flameproof fusible paper wax mica"
        " silver-mica ceramic polyester polypropylene oil tantalum selenium silicon germanium"
        " variable trimmer preset"
    ).split(),
    "PART_KIND": PART_KINDS,
    "COLOUR": COLOURS,
    "IN_CIRCUIT": ["in-circuit", "lifted"],
}
WORDS = {
    "QUANTITY": "a number or value such as 12 or 4k7",
    "BELOW": "a voltage below zero such as -9 V",
    "POINT": "a point such as V1.3",
    "NAME": "a name",
    "STRING": 'words in double quotes, as "Hall amplifier"',
    "PART_KIND": "a kind of part such as resistor",
    "COLOUR": "a colour",
    "PLACES": "tags (or turrets, eyelets, lugs)",
    "PINS": "pins",
    "POLES": "poles",
    "WAYS": "ways",
    "ON_OFF": "on-off",
    "CONTACT": "a contact: tip, ring, sleeve, break",
    "CONDUCTOR": "a conductor: L, N or E",
    "TO": "to and the far end",
    "FROM": "from",
    "NONE": "none",
    "AS": "as and a name for this use",
    "UNSEEN": "? for an end you cannot see",
    "$END": "the end of the line",
    "SIGN": "+, -, a or k",
    "SPEED": "slow or fast",
    "TAPER": "log or lin",
}
# The order in which expectations are told: the likeliest first.
_ORDER = list(WORDS)


def explained(file: str, number: int, text: str, error: UnexpectedInput) -> Problem:
    """Turn the parser's complaint into words of the trade."""
    code = without_comment(text)
    if code.count('"') % 2:
        at = code.rindex('"') + 1
        span = Span(file, number, at, len(code) + 1)
        return Problem("this quotation never ends", span, 'close it with a second "')
    words = code.split()
    if len(words) == 1 and words[0].lower() not in FIRST_WORDS + PART_KINDS:
        return _bad_start(Span(file, number, code.index(words[0]) + 1), words[0])
    if isinstance(error, UnexpectedEOF) or _at_end(error):
        end = len(code.rstrip()) + 1
        wanted = expected(_accepts(error))
        message = f"the line stops too early: expected {wanted}"
        return Problem(message, Span(file, number, end, end + 1), FORMS.get(words[0].lower(), ""))
    column = error.column if error.column > 0 else 1
    word = re.split(r"[\s,]", code[column - 1 :], maxsplit=1)[0] or code[column - 1 : column]
    span = Span(file, number, column, column + len(word))
    if not code[: column - 1].strip():
        return Problem(f"{word!r} begins no statement", span, _meant(word, FIRST_WORDS))
    before = code[: column - 1].split()
    if len(before) == 1 and before[0].lower() not in FIRST_WORDS:
        start = Span(file, number, code.index(before[0]) + 1)
        return _bad_start(start, before[0], word, column)
    if slip := _slip_before(file, number, code[: column - 1]):
        return slip
    wanted = expected(_accepts(error))
    hint = _hint(word, error) or FORMS.get(before[0].lower(), "")
    return Problem(f"did not expect {word!r} here: expected {wanted}", span, hint)


def _slip_before(file: str, number: int, code: str) -> Problem | None:
    """Find a mistyped value or colour that passed for a name before things went wrong."""
    for match in re.finditer(r"[^\s,]+", code):
        try:
            parse(match[0])
        except NotAQuantity as slip:
            message, _, hint = str(slip).partition("; ")
            if hint:
                span = Span(file, number, match.start() + 1, match.end() + 1)
                return Problem(message, span, hint)
    words = list(re.finditer(r"[^\s,]+", code))
    if {w[0].lower() for w in words} & {"wire", "bands", "body"}:
        for match in words[1:]:
            hint = _meant(match[0], COLOURS) if match[0].isalpha() else ""
            if hint and match[0].lower() not in (*COLOURS, "bands", "marked", "reads"):
                span = Span(file, number, match.start() + 1, match.end() + 1)
                return Problem(f"{match[0]!r} is no colour", span, hint)
    return None


def _bad_start(at: Span, first: str, word: str = "", column: int = 0) -> Problem:
    """Tell of a line that begins with a name or a misspelt word, and then goes wrong at `word`."""
    span = at._replace(end=at.column + len(first))
    likely = _meant(first, [*FIRST_WORDS, *PART_KINDS])
    if likely or not word:
        return Problem(f"{first!r} begins no statement", span, likely)
    kind = _meant(word, PART_KINDS) or f"as in: {first} resistor 100k V1.1 HT1"
    if word.lower() in ("trimmer", "variable", "preset", "padder"):
        kind = f"the kind comes first: {first} capacitor 30p trimmer V1.1 chassis"
    span = span._replace(column=column, end=column + len(word))
    return Problem(f"expected a kind of part behind the name {first!r}, not {word!r}", span, kind)


def _at_end(error: UnexpectedInput) -> bool:
    return isinstance(error, UnexpectedToken) and error.token.type == "$END"


def _accepts(error: UnexpectedInput) -> set[str]:
    if isinstance(error, UnexpectedToken):
        return set(error.accepts or error.expected)
    if isinstance(error, UnexpectedCharacters):
        return set(error.allowed or ())
    return set(getattr(error, "expected", ()))


def expected(terminals: set[str]) -> str:
    """Grammar terminals in words of the trade, the likeliest first, four at the most."""
    known = [WORDS[name] for name in _ORDER if name in terminals]
    plain = sorted(name.lower() for name in terminals if name not in WORDS and name.isalpha())
    told = [*known, *plain][:4]
    return " or ".join(told) if told else "something else"


def _hint(word: str, error: UnexpectedInput) -> str:
    """Find the likely fix for a word in the wrong place."""
    accepts = _accepts(error)
    if "QUANTITY" in accepts:
        try:
            parse(word)
        except NotAQuantity as slip:
            if hint := str(slip).partition("; ")[2]:
                return hint
    keywords = [word for name in accepts for word in MEANT.get(name, [name.lower()])]
    if re.fullmatch(r"[A-Za-z]+\d*[-:/]\d+", word) and "POINT" in accepts:
        return f"points are written with a dot: {re.sub('[-:/]', '.', word, count=1)}"
    return _meant(word, keywords)


def _meant(word: str, among: Iterable[str]) -> str:
    lower = word.lower()
    if lower in SYNONYMS and SYNONYMS[lower] in among:
        return f"did you mean {SYNONYMS[lower]!r}?"
    close = difflib.get_close_matches(lower, sorted(among), 1, 0.7)
    return f"did you mean {close[0]!r}?" if close else ""


def without_comment(text: str) -> str:
    """The line without its comment, minding quotations."""
    if "#" not in text:
        return text
    quoted = False
    for index, sign in enumerate(text):
        if sign == '"':
            quoted = not quoted
        elif sign == "#" and not quoted:
            return text[:index]
    return text
