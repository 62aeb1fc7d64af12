"""Made-up input: texts, numbers, mutations and whole batches, drawn from one source of chance.

The source is a `random.Random`. `FromBytes` is one whose numbers are cut from given bytes, so that
a coverage-guided fuzzer that varies bytes varies the input's structure.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

from trubshoot.batch.fields import GROUPS, HEAD_KEYS, LISTS, LOG
from trubshoot.batch.verbs import DETAILS, VERBS

ROOT = Path(__file__).resolve().parents[2]
NASTY = (
    *("[", "]", "{", "}", ": ", "- ", "\n", "&a ", "*a", "!!python/name:os.system ", "? ", "| "),
    *("\t", "\u2028", "\u0085", "\ufeff", "\x00", "\x1b[31m", "\x7f", "\ud800", "\U0001f37a", "\r"),
    *("1e400", "-1", ".inf", "nan", "0x1F", "9" * 400, "99999999999999999999", "1,5", "1.000,5"),
    *("no", "off", "null", "~", "12:30", "2026-02-31", "2999-01-01", "0001-01-01", "'", '"', "#"),
    *(
        "½",
        "١٢",
        "\uff11\uff12",
        "²",
        "68",
        "1/0",
        "½½",
        "5 oz",
        "per bottle",
        "unknown",
        "<<: ",
        "%",
        "---\n",
    ),
    *("{0}", "%s", "../", "e\u0301" * 40, "\u202e", "--", "=", "a" * 300, "İ", "ß", "\u00a0"),
)
WORDS = (
    *("sour", "foam", "no", "bottle", "bottles", "gush", "film", "white", "burst", "cracked"),
    *("smells", "of", "green", "apple", "eggs", "not", "never", "stuck", "flat", "cloudy", "hot"),
    *("about", "maybe", "all", "one", "some", "two", "days", "after", "pitching", "airlock"),
)
QUANTITIES = (
    *("19 l", "5 gal", "20 C", "68F", "1.012", "1012", "12 P", "110 g", "4 oz", "3 weeks", "2.4"),
    *("1 lb 4 oz", "11 g", "half a cup", "2 tsp heaped", "48 x 330 ml", "reused longneck 12 oz"),
    *(
        "3 days",
        "36 hours",
        "4 %",
        "about 20",
        "1/2 tsp",
        "2 drops per bottle",
        "yes",
        "no",
        "2 bar",
    ),
)
MOMENTS = ("2026-11-01", "2026-11-02 14:00", "2026-10-30 08:15", "2026-11-24 23:59", "2026-02-29")


class FromBytes(random.Random):
    """A source of chance that uses up given bytes; after their end it gives zeros."""

    def __new__(cls, raw: bytes) -> FromBytes:
        """Make the object without a random state of its own."""
        return super().__new__(cls)

    def __init__(self, raw: bytes) -> None:
        super().__init__(0)
        self._raw, self._at = raw, 0

    def getrandbits(self, k: int) -> int:
        """Return k bits cut from the bytes."""
        size = (k + 7) // 8
        part = self._raw[self._at : self._at + size]
        self._at += size
        return int.from_bytes(part, "little") & ((1 << k) - 1)

    def random(self) -> float:
        """Return a number from 0 to 1 (1 not included)."""
        return self.getrandbits(16) / 65536


def any_text(chance: random.Random, most: int = 12) -> str:
    """Return a short text: words, quantities, rubbish, or any characters."""
    parts = []
    for _ in range(chance.randint(0, most)):
        kind = chance.randrange(8)
        if kind < 3:
            parts.append(chance.choice(WORDS))
        elif kind < 5:
            parts.append(chance.choice(QUANTITIES))
        elif kind == 5:
            parts.append(chance.choice(NASTY))
        elif kind == 6:
            parts.append(chr(chance.choice((chance.randrange(128), chance.randrange(0x2FFF)))))
        else:
            parts.append(str(chance.randint(-5, 2000) / chance.choice((1, 10, 1000))))
    return chance.choice((" ", "", ", ")).join(parts)


def mutated(chance: random.Random, text: str, others: Sequence[str] = NASTY) -> str:
    """Return a text after one to five cuts, insertions, swaps or repetitions."""
    for _ in range(chance.choice((1, 1, 2, 3, 5))):
        at = chance.randint(0, len(text))
        end = min(len(text), at + chance.choice((0, 0, 1, 3, 10, 40)))
        kind = chance.randrange(6)
        if kind < 2:
            new = chance.choice(others)
        elif kind == 2:
            new = chance.choice(QUANTITIES)
        elif kind == 3:
            new = ""
        elif kind == 4:
            start = chance.randint(0, len(text))
            new = text[start : start + chance.choice((5, 30, 100))]
        else:
            new = text[at:end] * chance.choice((2, 3, 20))
        text = text[:at] + new + text[end:]
    return text[:100_000]


def mutated_bytes(chance: random.Random, raw: bytes) -> bytes:
    """Return bytes after one to eight changes of single bytes or parts."""
    data = bytearray(raw)
    most = 256 if chance.random() < 0.2 else 128  # what is not UTF-8 is refused at once
    for _ in range(chance.choice((1, 1, 2, 3, 8))):
        at = chance.randint(0, max(0, len(data) - 1))
        kind = chance.randrange(4)
        if kind == 0:
            data[at : at + 1] = bytes((chance.randrange(most),))
        elif kind == 1:
            data[at:at] = bytes(chance.randrange(most) for _ in range(chance.randint(1, 6)))
        elif kind == 2:
            del data[at : at + chance.choice((1, 1, 5, 50))]
        else:
            data[at:at] = chance.choice(NASTY).encode("utf-8", "surrogatepass")
    return bytes(data)


@cache
def samples(folder: str) -> tuple[str, ...]:
    """Return the texts of the YAML files of a folder of the checkout, in order of their names."""
    found = tuple(path.read_text("utf-8") for path in sorted((ROOT / folder).glob("*.yaml")))
    assert found, folder
    return found


def batch_sample(chance: random.Random) -> str:
    """Return the text of a good batch file."""
    folder = chance.choice(("docs/examples", "tests/safety/logs", "tests/real_cases"))
    return chance.choice(samples(folder))


def value_text(chance: random.Random, wild: float = 0.15) -> str:
    """Return a value as it may stand in a batch file; `wild` is the share of rubbish."""
    if chance.random() < wild:
        return chance.choice(NASTY)
    return chance.choice(QUANTITIES)


_GOOD_LINES = (
    "gravity: {sg}, sample: 20 C, with: hydrometer, degassed: yes",
    "gravity: {sg}",
    "beer: {temp} C",
    "room: {temp} C",
    "ph: 4.{digit}",
    "did: pitched, beer: {temp} C, amount: 11 g",
    "did: bottled, sugar: {grams} g table sugar, volume: 18 l, dosing: bulk",
    "did: dry hopped, amount: {grams} g",
    "did: stored, temp: {temp} C, where: cellar",
    "did: racked, splashed: yes",
    "did: opened bottle, temp: {temp} C",
    "saw: {words}, in: some bottles",
    "saw: {words}",
    "smelled: {words}",
    "tasted: {words}",
    "no_sign_of: {words}",
    "note: {words}",
    "did: {words}",
    "turned_out: {words}",
)
_GOOD_HEADS = (
    "units: us",
    "style: {words}",
    "today: {day}",
    "wort: {{kind: extract kit, volume: {litres} l, expected_og: {sg}, expected_fg: 1.012}}",
    "fermentables: [{{what: light dry malt extract, amount: {grams} g}}]",
    "yeast: {{class: english ale, form: dry, amount: {digit} g, age: {digit} months}}",
    "vessel: {{kind: bucket, volume: {litres} l}}",
    "instruments: {{hydrometer_in_water: 1.00{digit}, hydrometer_scale: 20 C}}",
    "bottles: {{kind: brown longneck, size: 330 ml, count: {grams}, reused: yes}}",
    "storage: {{where: cellar, temp: {temp} C}}",
    "sanitizing: {{with: no-rinse acid sanitizer}}",
    "room: {temp} C",
    "circumstances: [{words}]",
    "plan: {{sugar: {grams} g table sugar, volume: 18 l}}",
)


def _filled(chance: random.Random, form: str, phrases: Sequence[str]) -> str:
    words = chance.choice(phrases) if phrases and chance.random() < 0.8 else any_text(chance, 4)
    quoted = "".join(c if c.isprintable() and c not in '"\\' else " " for c in words)
    values: Mapping[str, object] = {
        "sg": f"1.{chance.randint(0, 90):03}",
        "temp": chance.randint(-3, 42),
        "digit": chance.randint(0, 9),
        "grams": chance.choice((0, 5, 60, 110, 150, 400, 5000)),
        "litres": chance.choice((1, 5, 19, 23)),
        "day": chance.choice(MOMENTS),
        "words": f'"{quoted}"',
    }
    return form.format(**values)


def sensible_batch(chance: random.Random, phrases: Sequence[str] = ()) -> str:
    """Return the text of a batch that can nearly always be read, however odd its story is."""
    heads = chance.sample(_GOOD_HEADS, chance.randint(0, 8))
    lines = ["batch: made up", *(_filled(chance, form, phrases) for form in heads), "log:"]
    by_day = chance.random() < 0.5
    for _ in range(chance.randint(0, 14)):
        day = chance.randint(0, 23)
        when = f"day: {day}" if by_day else f"at: 2026-11-{day + 1:02} {chance.randint(0, 23)}:00"
        lines.append(f"  - {{{when}, {_filled(chance, chance.choice(_GOOD_LINES), phrases)}}}")
    return "\n".join(lines) + "\n"


def made_batch(chance: random.Random) -> str:
    """Return the text of a batch built from all keys of the format, with values of any kind."""
    wild = chance.choice((0.0, 0.05, 0.3))
    lines = ["batch: made up"]
    for key in chance.sample(sorted({*HEAD_KEYS} - {"batch", "log"}), chance.randint(0, 8)):
        group = GROUPS.get(key)
        fields = sorted(group.fields) if group is not None else sorted(LISTS.get(key, {}))
        if not fields:
            lines.append(f"{key}: {value_text(chance, wild)}")
            continue
        picked = chance.sample(fields, chance.randint(0, len(fields)))
        inner = ", ".join(f"{name}: {value_text(chance, wild)}" for name in picked)
        lines.append(f"{key}: [{{{inner}}}]" if key in LISTS else f"{key}: {{{inner}}}")
    lines.append("log:")
    for _ in range(chance.randint(0, 10)):
        when = chance.choice((f"at: {chance.choice(MOMENTS)}", f"day: {chance.randint(-2, 40)}"))
        verb = chance.choice(sorted(LOG))
        said = chance.choice(VERBS) if verb == "did" else value_text(chance, wild)
        names = sorted(LOG[verb][1]) if verb != "did" else sorted(DETAILS[said])
        picked = chance.sample(names, chance.randint(0, len(names)))
        details = "".join(f", {name}: {value_text(chance, wild)}" for name in picked)
        lines.append(f"  - {{{when}, {verb}: {said}{details}}}")
    return "\n".join(lines) + "\n"
