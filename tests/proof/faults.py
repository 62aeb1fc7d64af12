"""Faults of the machine and of its surroundings: nothing is lost, nothing is half, nothing shouts.

Run: python -m tests.proof.faults
     python -m tests.proof.faults --only kills --writes 1000

Each fault is one row of `FAULTS`. What a fault may lead to: the answer, or one of the documented
exit codes with a sentence; never a traceback, never half a file.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import contextmanager
from pathlib import Path

from tests.proof import interruptions
from tests.proof.child import WITH_CLOCK, WITH_LOCALE, call, files_in, program, sound, surroundings
from tests.proof.commands import BATCH, COMMANDS, MORE, Row, filled, prepared
from tests.proof.interruptions import WHOLE

from trubshoot.batch import read_batch

ROOT = Path(__file__).resolve().parents[2]
FAILED, BAD_INPUT, HAZARD = 1, 2, 3
ROWS: dict[str, Row] = {name: row for name, row in {**COMMANDS, **MORE}.items() if not row.endless}
_SOME = ("log", "new", "next")
# the same in all commands, so one of each kind is enough where every one of them takes a process
FEW = {name: ROWS[name] for name in ("diagnose", "log", "knowledge source", "version")}
TWO = {name: ROWS[name] for name in ("diagnose", "log")}


def _rows(size: int) -> dict[str, Row]:
    """Return all ways of calling, or in a small campaign one of each kind."""
    return ROWS if size >= WHOLE else TWO


def _writing(size: int) -> dict[str, Row]:
    return {
        name: row for name, row in ROWS.items() if row.writes and (size >= WHOLE or name in _SOME)
    }


def _fresh(folder: Path, name: str) -> Path:
    place = folder / name.replace(" ", "_")
    place.mkdir()
    prepared(place)
    return place


def _unchanged(place: Path, before: dict[str, bytes], what: object) -> None:
    after = files_in(place)
    assert after == before, (what, sorted(set(after) ^ set(before)))


# --- disks


def disk_limit(folder: Path, size: int) -> str:
    """No file may grow: every command that writes says so and leaves all as it was."""
    for name, row in _writing(size).items():
        place = _fresh(folder, name)
        before = files_in(place)
        run = call(
            filled(row),
            place,
            preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (64, 64)),
        )
        sound(run, (BAD_INPUT,), name)
        assert b"too large" in run.err, (name, run.said)
        _unchanged(place, before, name)
    for name, row in FEW.items():
        if not row.writes:  # nothing can be kept for the next start, and that is no matter
            run = call(
                filled(row),
                _fresh(folder, f"{name} only"),
                env={"XDG_CACHE_HOME": str(folder / "cache")},
                preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (64, 64)),
            )
            sound(run, row.codes, name)
    kept = [path for path in (folder / "cache").rglob("*") if path.is_file()]
    assert kept == [], kept
    return f"{len(_writing(size))} commands that write, each refused with its reason"


@contextmanager
def _small_disk(folder: Path, kilobytes: int):
    """Mount a small disk of its own; None where that is not allowed."""
    place = folder / "disk"
    place.mkdir(exist_ok=True)
    command = ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(place)]
    mounted = subprocess.run(command, capture_output=True, check=False).returncode == 0
    try:
        yield place if mounted else None
    finally:
        if mounted:
            subprocess.run(["umount", str(place)], check=True)


def disk_full(folder: Path, size: int) -> str:
    """On a full disk every command that writes says so and leaves all as it was."""
    tried = 0
    for row in _writing(size).values():
        with _small_disk(folder, 64) as place:
            if place is None:
                return "no small disk may be mounted here; the limit above stands for it"
            prepared(place)
            with (place / "filler").open("wb", buffering=0) as filler:
                try:
                    while True:
                        filler.write(b"x" * 512)
                except OSError:
                    pass
            before = files_in(place)
            run = sound(call(filled(row), place), (BAD_INPUT,), row)
            assert b"No space left" in run.err, run.said
            _unchanged(place, before, row)
            tried += 1
    return f"{tried} commands that write, each refused with its reason"


def read_only(folder: Path, size: int) -> str:
    """In a folder that cannot be written: refused with a reason; what only reads answers."""
    with _small_disk(folder, 512) as place:
        target = place or _fresh(folder, "folder")
        if place is not None:
            prepared(place)
            remount = ["mount", "-o", "remount,ro", str(place)]
            subprocess.run(remount, check=True, capture_output=True)
        elif os.geteuid() == 0:
            return "no disk may be mounted here, and the rights of a folder do not bind root"
        else:
            target.chmod(0o555)
        before = files_in(target)
        for name, row in _rows(size).items():
            codes = (BAD_INPUT,) if row.writes else row.codes
            run = sound(call(filled(row), target), codes, name)
            assert not row.writes or run.err.strip(), name
            assert row.writes == () or b"rror" not in run.err or b"cannot" in run.err, run.said
        _unchanged(target, before, "read only")
        target.chmod(0o755) if place is None else None
    return f"{len(_rows(size))} ways of calling: what writes refused, what reads answered"


def output_full(folder: Path, size: int) -> str:
    """When standard output can take nothing, the exit code says that something failed."""
    if not Path("/dev/full").exists():
        return "there is no /dev/full here"
    for name, row in _rows(size).items():
        place = _fresh(folder, f"full {name}")
        with Path("/dev/full").open("wb") as full:
            run = call(filled(row), place, stdout=full)
        sound(run, (FAILED,), name)
        assert b"No space left" in run.err, (name, run.said)
    return f"{len(_rows(size))} ways of calling"


# --- processes


def two_writers(folder: Path, size: int) -> str:
    """Several processes log into one file at the same time: all lines are there, each whole."""
    path = folder / BATCH
    path.write_text("batch: x\nlog:\n", encoding="utf-8")
    writers, each = 4, max(2, size // 100)
    code = (
        "import sys\nfrom trubshoot.cli.app import main\n"
        "for number in range(int(sys.argv[2])):\n"
        "    try:\n"
        "        main(['log', 'b.yaml', 'note', f'{sys.argv[1]}-{number}'])\n"
        "    except SystemExit as ended:\n"
        "        assert ended.code in (0, 3), ended.code\n"
    )
    running = [
        subprocess.Popen(
            [*program(code), str(writer), str(each)],
            cwd=folder,
            env=surroundings(),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
        )
        for writer in range(writers)
    ]
    for process in running:
        _, err = process.communicate(timeout=600)
        assert process.returncode == 0, err.decode()
    said = [entry.text for entry in read_batch(path).log if entry.entry == "note"]
    assert len(said) == len(set(said)) == writers * each
    for writer in range(writers):
        own = [text for text in said if text.startswith(f"{writer}-")]
        assert own == [f"{writer}-{number}" for number in range(each)]
    assert sorted(files_in(folder)) == [BATCH]
    return f"{writers} writers with {each} lines each"


def closed_pipe(folder: Path, size: int) -> str:
    """A reader that goes away (`| head -1`, `| true`): a quiet end with a documented code."""
    for name, row in _rows(size).items():
        for lines in (0, 1):
            place = _fresh(folder, f"{name} {lines}")
            process = subprocess.Popen(
                [*program(), *filled(row)],
                cwd=place,
                env=surroundings(),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
            )
            assert process.stdout is not None
            assert process.stderr is not None
            if lines:
                process.stdout.readline()
            process.stdout.close()
            with process.stderr:
                err = process.stderr.read()
            process.wait(timeout=120)
            assert process.returncode in (FAILED, *row.codes), (
                name,
                lines,
                process.returncode,
                err,
            )
            assert b"Exception" not in err, (name, err)
            assert b"Traceback" not in err, (name, err)
    return f"{len(_rows(size))} ways of calling, closed at once and after one line"


# --- clocks


def _clock(at: float, zone: str) -> dict[str, str | None]:
    return {"CLOCK": str(at), "TZ": zone}


def clock_back(folder: Path, size: int) -> str:
    """The clock jumps back by an hour, a day or years: nothing is lost, and the answer says why."""
    seen = []
    start = 1_792_843_200.0  # an afternoon in October 2026
    for back, codes in ((3600, (0, 3)), (7200, (2,)), (86_400, (2,)), (1e8, (2,))):
        place = _fresh(folder, f"back {back}")
        (place / BATCH).write_text("batch: x\nlog:\n", encoding="utf-8")
        words = ("log", BATCH, "note", "first")
        sound(call(words, place, code=WITH_CLOCK, env=_clock(start, "UTC")), (0, 3), back)
        between = (place / BATCH).read_bytes()
        later = _clock(start - back, "UTC")
        run = call(("log", BATCH, "note", "second"), place, code=WITH_CLOCK, env=later)
        sound(run, codes, back)
        sound(call(("diagnose", BATCH), place, code=WITH_CLOCK, env=later), codes, back)
        after = (place / BATCH).read_bytes()
        assert after.startswith(between), "a line was lost"
        assert (b"second" in after) is (run.code in (0, 3))
        seen.append(f"{back:g} s: {'taken' if run.code in (0, 3) else 'refused with the reason'}")
    return "; ".join(seen)


def summer_time(folder: Path, size: int) -> str:
    """Lines logged across both changes of the clock, in two zones, are all taken and kept."""
    zones = {
        "CET-1CEST,M3.5.0,M10.5.0/3": (1_774_746_000, 1_792_890_000),
        "EST5EDT,M3.2.0,M11.1.0": (1_772_953_200, 1_793_512_800),
    }
    count = 0
    for zone, changes in zones.items():
        for change in changes:
            place = _fresh(folder, f"change {change}")
            (place / BATCH).write_text("batch: x\nlog:\n", encoding="utf-8")
            for minutes in (-70, -50, -10, 10, 50, 70):
                env = _clock(change + 60 * minutes, zone)
                words = ("log", BATCH, "note", f"n{minutes}")
                sound(call(words, place, code=WITH_CLOCK, env=env), (0, 3), (zone, minutes))
                count += 1
            run = call(("next", BATCH, "--ics", "dates.ics"), place, code=WITH_CLOCK, env=env)
            sound(run, (0, 3), zone)
            said = [entry.text for entry in read_batch(place / BATCH).log]
            assert said == [f"n{minutes}" for minutes in (-70, -50, -10, 10, 50, 70)]
    return f"{count} lines across 4 changes"


# --- surroundings


def letters(folder: Path, size: int) -> str:
    """Without UTF-8 every command answers, and names of files and of batches keep working."""
    plain = {"LC_ALL": "C", "LANG": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    count = 0
    for extra in ({}, {"PYTHONIOENCODING": "ascii"}, {"PYTHONIOENCODING": "latin-1"}):
        place = _fresh(folder, f"names {count}")
        env = {**plain, **extra}
        untouched = (place / BATCH).read_bytes()
        for name, row in (_rows(size) if not extra else FEW).items():
            own = _fresh(folder, f"letters {count}")
            sound(call(filled(row), own, env=env), row.codes, (name, extra))
            count += 1
        for name in ("kölsch.yaml".encode(), b"\xff\xfe.yaml", "麦酒.yaml".encode()):
            raw = untouched.replace(b"batch: ", "batch: Kölsch № 5 → ".encode())
            (place / os.fsdecode(name)).write_bytes(raw)
            sound(call((b"diagnose", name, b"--at", b"2026-04-05"), place, env=env), (0, 3), name)
            sound(
                call((b"log", name, b"saw", "weißer Film".encode()), place, env=env), (0, 3), name
            )
            assert "weißer Film".encode() in (place / os.fsdecode(name)).read_bytes(), name
            count += 2
        sound(call((b"diagnose", "süß.yaml".encode()), place, env=env), (BAD_INPUT,), "missing")
    return f"{count} calls in ASCII and Latin-1"


def decimal_comma(folder: Path, size: int) -> str:
    """Where numbers are written with a comma, the same file gives the same answer to the letter."""
    if shutil.which("localedef") is None:
        return "no locale with a decimal comma can be made here"
    where = folder / "locales"
    where.mkdir()
    subprocess.run(
        ["localedef", "-i", "de_DE", "-f", "UTF-8", str(where / "de_DE.UTF-8")],
        capture_output=True,
        check=False,
    )
    env: dict[str, str | None] = {"LOCPATH": str(where), "LC_ALL": "de_DE.UTF-8"}
    check = "import locale as l; l.setlocale(l.LC_ALL, ''); print(l.str(1.5)); raise SystemExit"
    point = call((), folder, code=check, env=env).out.strip()
    if point != b"1,5":
        return "no locale with a decimal comma can be made here"
    count = 0
    kinds = [folder / kind for kind in ("comma", "point")]
    for kind in kinds:
        kind.mkdir()
    for name, row in _rows(size).items():
        if name == "help":
            continue
        with_comma, with_point = (_fresh(kind, name) for kind in kinds)  # some answers name it
        got = call(filled(row), with_comma, code=WITH_LOCALE, env=env)
        right = call(filled(row), with_point, env={"LC_ALL": "C.UTF-8"})
        sound(got, row.codes, name)
        assert got.out == right.out or "log" in name, name
        count += 1
    return f"{count} ways of calling, the same answers"


def no_home(folder: Path, size: int) -> str:
    """Without a home folder, or with one that is none, every command answers."""
    gone = dict.fromkeys(("XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME"))
    count = 0
    for home in (None, "", "/nonexistent/home", "/dev/null", "relative"):
        env = {**gone, "HOME": home} if home is not None else {**gone, "HOME": None}
        for name, row in (_rows(size) if home == "/nonexistent/home" else FEW).items():
            place = _fresh(folder, f"home {count}")
            sound(call(filled(row), place, env=env), row.codes, (home, name))
            count += 1
    run = call(FEW["version"].arguments, folder, env={**gone, "XDG_CACHE_HOME": "/dev/null/x"})
    sound(run, (0,), "cache in no folder")
    return f"{count} calls with 5 kinds of missing homes"


def no_terminal(folder: Path, size: int) -> str:
    """Without a terminal, with closed streams and odd widths, every command answers or says why."""
    count = 0
    closings: dict[str, tuple[int, ...]] = {
        "input": (0,),
        "output": (1,),
        "messages": (2,),
        "all": (0, 1, 2),
    }
    for what, numbers in closings.items():
        for name, row in (FEW if size >= WHOLE else TWO).items():
            run = call(
                filled(row),
                _fresh(folder, f"closed {count}"),
                preexec_fn=lambda numbers=numbers: [os.close(number) for number in numbers],
            )
            sound(run, (*row.codes, FAILED) if 1 in numbers else row.codes, (what, name))
            count += 1
    place = _fresh(folder, "terminal")
    for columns in ("0", "-1", "abc", "99999999999", "1", "") if size >= WHOLE else ("abc",):
        for term in ("dumb", None):
            run = call(filled(FEW["diagnose"]), place, env={"COLUMNS": columns, "TERM": term})
            sound(run, (0, HAZARD), (columns, term))
            count += 1
    run = sound(call(("diagnose",), place), (BAD_INPUT,), "interview")
    assert b"terminal" in run.err, run.said
    return f"{count} calls"


Fault = Callable[[Path, int], str]
FAULTS: dict[str, Fault] = {
    "kills": interruptions.kills,
    "kills of the command": interruptions.kills_of_the_command,
    "ctrl-C": interruptions.control_c,
    "disk limit": disk_limit,
    "disk full": disk_full,
    "read-only folder": read_only,
    "output full": output_full,
    "two writers": two_writers,
    "closed pipe": closed_pipe,
    "clock back": clock_back,
    "summer time": summer_time,
    "letters": letters,
    "decimal comma": decimal_comma,
    "no home": no_home,
    "no terminal": no_terminal,
}


def main(arguments: list[str]) -> int:
    """Make the faults and print what was seen; returns 1 when anything was lost, half or loud."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--only", choices=sorted(FAULTS))
    parser.add_argument("--writes", type=int, default=1_000, help="writes that are broken off")
    chosen = parser.parse_args(arguments)
    failed = 0
    print("| fault | what was seen | s |\n| --- | --- | --- |")
    for name, fault in FAULTS.items():
        if chosen.only not in (None, name):
            continue
        start = time.perf_counter()
        with tempfile.TemporaryDirectory() as folder:
            try:
                seen = fault(Path(folder), chosen.writes)
            except AssertionError as error:
                seen, failed = f"FOUND: {error}", failed + 1
        print(f"| {name} | {seen} | {time.perf_counter() - start:.0f} |", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    sys.exit(main(sys.argv[1:]))
