"""Broken off at random moments, by kill -9 and by ctrl-C: what was said to be written is there."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import time
from pathlib import Path

from tests.proof.child import call, files_in, program, sound, surroundings
from tests.proof.commands import BATCH, COMMANDS, MORE, filled, prepared

from trubshoot.batch import read_batch

HEAD = "batch: x   # kept\nunits:   metric\nlog:\n"
# appends numbered notes for ever, and says each number when the line is said to be written
WRITER = """
import sys
from datetime import datetime
from pathlib import Path
from trubshoot.batch.log_words import typed_line, when_typed
from trubshoot.batch.store import append_lines
path, number = Path(sys.argv[1]), int(sys.argv[2])
clock = datetime(2026, 11, 20, 12)
while True:
    words = ["note", f"line {number} of many"]
    append_lines(path, lambda b: [typed_line(words, {}, when_typed(None, None, b, clock))], clock)
    print(number, flush=True)
    number += 1
"""
# says that it is ready to be interrupted, then runs the command
ANNOUNCED = """
import os, sys
from trubshoot.__main__ import main, prepare
prepare()
try:
    os.write(int(os.environ["READY"]), b"r")
except KeyboardInterrupt:
    os._exit(130)
main()
"""
STOPPED = 130  # the exit code of what was interrupted
WHOLE = 100  # from so many writes on, every command is tried
MOST_LINES = 150  # of one file; then a new one is begun, so that reading it stays quick


def hidden(name: str) -> bool:
    """Tell whether a name is that of what a killed writer leaves until the next one comes."""
    return name.startswith(".") and name.endswith(".new")


def _numbers(path: Path) -> list[int]:
    """Return the numbers of the notes; every byte of the file must be as it should."""
    text = path.read_text("utf-8")
    found = [int(entry.text.split()[1]) for entry in read_batch(path).log if entry.entry == "note"]
    lines = (f"  - {{at: 2026-11-20 12:00, note: line {number} of many}}\n" for number in found)
    assert text == HEAD + "".join(lines), "a line is not whole"
    return found


def kills(folder: Path, size: int) -> str:
    """Writers killed (-9) at random moments: every line said to be written is there, whole."""
    chance = random.Random(8)
    path = folder / BATCH
    path.write_text(HEAD, encoding="utf-8")
    writes = killed = strays = unsaid = 0
    while writes < size:
        before = _numbers(path)
        start = before[-1] + 1 if before else 0
        process = subprocess.Popen(
            [*program(WRITER), str(path), str(start)],
            env=surroundings(),
            stdout=subprocess.PIPE,
        )
        assert process.stdout is not None
        said = start - 1
        last = time.perf_counter()
        for _ in range(chance.randint(1, 12)):
            said = int(process.stdout.readline() or said)
            last, each = time.perf_counter(), time.perf_counter() - last
        time.sleep(chance.uniform(0, 1.2 * each))
        process.kill()
        rest = process.communicate()[0].split()
        said = int(rest[-1]) if rest else said
        found = _numbers(path)
        assert found == list(range(found[-1] + 1)), "a line is missing"
        assert said <= found[-1] <= said + 1, (said, found[-1])
        beside = sorted(set(files_in(folder)) - {BATCH})
        assert all(hidden(name) for name in beside), beside
        assert len(beside) <= 1, "what was left before was not taken away"
        writes += found[-1] + 1 - start
        unsaid += found[-1] - said
        strays += len(beside)
        killed += 1
        if len(found) > MOST_LINES:
            path.write_text(HEAD, encoding="utf-8")
    sound(call(("log", BATCH, "note", "after all"), folder), (0, 3), "the next one")
    assert sorted(files_in(folder)) == [BATCH], "something lies beside the file"
    return (
        f"{writes} writes, {killed} kills: {unsaid} fell after the step that counts, {strays} left "
        "a file beside it, which the next writer took away; none lost, none half"
    )


def kills_of_the_command(folder: Path, size: int) -> str:
    """Every command that writes, killed at random moments: its files are the old or the new."""
    chance = random.Random(9)
    every = {**COMMANDS, **MORE}
    rows = {name: row for name, row in every.items() if row.writes}
    count = 0
    for name, row in rows.items():
        whole = folder / f"whole {name}"
        whole.mkdir()
        prepared(whole)
        start = time.perf_counter()
        sound(call(filled(row), whole), row.codes, name)
        took = time.perf_counter() - start
        new = files_in(whole)
        for number in range(max(2, size // 60)):
            place = folder / f"{name} {number}"
            place.mkdir()
            prepared(place)
            old = files_in(place)
            process = subprocess.Popen(
                [*program(), *filled(row)],
                cwd=place,
                env=surroundings(),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
            time.sleep(chance.uniform(0, 1.1 * took))
            process.kill()
            process.wait()
            for file, content in files_in(place).items():
                if file in row.writes:
                    same = (old.get(file), new[file])
                    assert _timeless(content) in [_timeless(one) for one in same if one], (
                        name,
                        file,
                    )
                else:
                    assert hidden(file) or content == old[file], (name, file)
            count += 1
    return f"{count} commands of {len(rows)} kinds"


def _timeless(content: bytes) -> bytes:
    """Return a file without the moment at which a line or a calendar was written."""
    import re

    return re.sub(rb"(at: 20|DTSTAMP:20|UID:)[^,\r\n]*", b"", content)


def control_c(folder: Path, size: int) -> str:
    """Ctrl-C at random moments of every command: a quiet end, exit code 130, old or new files."""
    chance = random.Random(10)
    every = {**COMMANDS, **MORE}
    rows = every if size >= WHOLE else {name: every[name] for name in ("diagnose", "log", "next")}
    codes: dict[int, int] = {}
    each = max(1, size // (12 * len(rows)))
    for name, row in rows.items():
        for number in range(each):
            place = folder / f"{name} {number}"
            place.mkdir()
            prepared(place)
            old = files_in(place)
            ready, ready_write = os.pipe()
            process = subprocess.Popen(
                [*program(ANNOUNCED), *filled(row)],
                cwd=place,
                env=surroundings(READY=str(ready_write)),
                pass_fds=(ready_write,),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
            )
            os.close(ready_write)
            assert os.read(ready, 1) == b"r"
            os.close(ready)
            time.sleep(chance.uniform(0, 0.7))
            process.send_signal(signal.SIGINT)
            out, err = process.communicate(timeout=120)
            said = (out + err).decode("utf-8", "replace")
            assert process.returncode in (STOPPED, *row.codes), (
                name,
                process.returncode,
                said[-800:],
            )
            assert "Traceback" not in said, (name, said[-1500:])
            assert "Exception ignored" not in said, (name, said[-1500:])
            assert not err.strip() or process.returncode in row.codes, (name, said[-800:])
            left = set(files_in(place)) - set(old) - set(row.writes)
            assert not left, (name, left)
            codes[process.returncode] = codes.get(process.returncode, 0) + 1
    stopped, ended = codes.get(STOPPED, 0), sum(codes.values()) - codes.get(STOPPED, 0)
    assert stopped, "no command was caught while running"
    return f"{stopped} stopped, {ended} had ended already; nothing left lying about"
