"""How well words are understood: findings made out of the real cases' files against the encodings.

Run: python -m tests.accuracy.words [--list]
"""

from __future__ import annotations

import argparse
from collections import Counter

from tests.accuracy.scoring import real_cases
from tests.accuracy.whole import FOLDER, diagnostician

from trubshoot.batch import read_batch
from trubshoot.batch.model import Observation


def main() -> None:
    """Print precision and recall over findings told as present, and what is behind them."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--list", action="store_true", help="list every word missed or misread")
    shown = parser.parse_args()
    work = diagnostician()
    hit = extra = missed = 0
    extras: Counter[str] = Counter()
    misses: Counter[str] = Counter()
    for case in real_cases():
        batch = read_batch(FOLDER / f"{case.id.lower()}.yaml")
        from datetime import datetime

        found = work.diagnose(batch, datetime(2026, 1, 1)).findings
        said = {item.id for item in found if item.up}
        wanted = set(case.encoded["present"])
        hit += len(said & wanted)
        extra += len(said - wanted)
        missed += len(wanted - said)
        extras.update(said - wanted)
        misses.update(wanted - said)
        if shown.list and said != wanted:
            words = [
                text
                for entry in batch.log
                if isinstance(entry, Observation)
                for text in entry.texts
            ]
            print(f"{case.id}: extra {sorted(said - wanted)}; missed {sorted(wanted - said)}")
            print(f"    {[*words, *batch.circumstances]}")
    print(
        f"precision {hit / (hit + extra):.2f} ({hit}/{hit + extra}), "
        f"recall {hit / (hit + missed):.2f} ({hit}/{hit + missed})"
    )
    print("misread:", extras.most_common(25))
    print("missed:", misses.most_common(40))


if __name__ == "__main__":
    main()
