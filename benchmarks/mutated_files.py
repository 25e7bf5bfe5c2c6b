"""What becomes of spoilt design files: a clear error or a verdict, never a crash or a hang.

    python benchmarks/mutated_files.py [--quick] [--json FILE]

Small supplies are spoilt at random: keys dropped, values put out of range, units and nets
swapped, decades slipped, pins exchanged, tables doubled, bytes that are no text. A file that can
still be read is proved. JSON keys: files, refused, proved (by verdict), crashes, hangs, seed,
machine, commit; a crash is listed with its seed.
"""

from __future__ import annotations

import argparse
import json
import platform
import random
import re
import signal
import subprocess
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from types import FrameType

from railwright.catalogue.loader import CatalogueError
from railwright.circuit.design import read
from railwright.circuit.mistakes import DesignError
from railwright.prove.run import NothingToProve, prove

ROOT = Path(__file__).resolve().parent.parent
BASES = ("night_lamp.toml", "trimmed_five_volts.toml", "tripping_rail.toml")
FILES, QUICK_FILES = 500, 20
LONGEST = 60  # s for one file
UNITS = ("V", "mV", "kV", "A", "mA", "Ω", "kΩ", "MΩ", "F", "µF", "W", "K/W", "°C", "%", "s", "")
NUMBERS = ("0", "-1", "1e-30", "1e30", "1e400", "nan", "inf", "9" * 60, "0.5", "1", "47", "1e3")
WRONG = ("true", "-1", "[]", "{}", "1979-05-27", '"two"', '""', "[[]]", "3.5")

Mutation = Callable[[str, random.Random], str]


def _line(text: str, rng: random.Random, change: Callable[[str], str | None]) -> str:
    """The text with one line changed, or without it where the change gives None."""
    lines = text.split("\n")
    full = [i for i, line in enumerate(lines) if line and not line.startswith(("#", "["))]
    if not full:
        return text
    index = rng.choice(full)
    changed = change(lines[index])
    lines[index : index + 1] = [] if changed is None else [changed]
    return "\n".join(lines)


def _in_quotes(text: str, rng: random.Random, new: Callable[[str], str]) -> str:
    """The text with the content of one quoted value changed."""
    found = list(re.finditer(r'"([^"\n]*)"', text))
    if not found:
        return text
    chosen = rng.choice(found)
    return text[: chosen.start()] + f'"{new(chosen[1])}"' + text[chosen.end() :]


def drop_key(text: str, rng: random.Random) -> str:
    return _line(text, rng, lambda line: None)


def wrong_type(text: str, rng: random.Random) -> str:
    return _line(text, rng, lambda line: f"{line.split('=')[0]} = {rng.choice(WRONG)}")


def odd_value(text: str, rng: random.Random) -> str:
    return _in_quotes(text, rng, lambda old: f"{rng.choice(NUMBERS)} {rng.choice(UNITS)}")


def slipped_decade(text: str, rng: random.Random) -> str:
    def slip(old: str) -> str:
        factor = rng.choice((0.001, 0.1, 10.0, 1000.0))
        number = re.match(r"\d+(\.\d+)?", old)
        return f"{float(number[0]) * factor:g}{old[number.end() :]}" if number else old

    return _in_quotes(text, rng, slip)


def swapped_units(text: str, rng: random.Random) -> str:
    return _in_quotes(text, rng, lambda old: re.sub(r"[^\d.\s]+$", rng.choice(UNITS), old))


def renamed_net(text: str, rng: random.Random) -> str:
    nets = sorted(set(re.findall(r'= "([A-Z][A-Z0-9]+)"', text)))
    if not nets:
        return text
    old, new = rng.choice(nets), rng.choice([*nets, "NOWHERE"])
    places = list(re.finditer(rf'"{old}"', text))
    chosen = rng.choice(places)
    return text[: chosen.start()] + f'"{new}"' + text[chosen.end() :]


def exchanged_pins(text: str, rng: random.Random) -> str:
    def exchange(line: str) -> str:
        nets = re.findall(r'= "([^"]+)"', line)
        if not line.startswith("pins") or len(nets) < 2:
            return line
        one, two = rng.sample(nets, 2)
        return line.replace(f'"{one}"', '"\0"').replace(f'"{two}"', f'"{one}"').replace("\0", two)

    pins = [line for line in text.split("\n") if line.startswith("pins")]
    if not pins:
        return text
    chosen = rng.choice(pins)
    return text.replace(chosen, exchange(chosen), 1)


def dropped_table(text: str, rng: random.Random) -> str:
    tables = re.split(r"(?m)^(?=\[)", text)
    if len(tables) > 1:
        del tables[rng.randrange(len(tables))]
    return "".join(tables)


def doubled_table(text: str, rng: random.Random) -> str:
    tables = re.split(r"(?m)^(?=\[)", text)
    tables.append("\n" + rng.choice(tables))
    return "".join(tables)


def cut_short(text: str, rng: random.Random) -> str:
    return text[: rng.randrange(len(text) + 1)]


MUTATIONS: tuple[Mutation, ...] = (
    drop_key, wrong_type, odd_value, slipped_decade, slipped_decade, swapped_units, renamed_net,
    renamed_net, exchanged_pins, exchanged_pins, dropped_table, doubled_table, cut_short,
)  # fmt: skip


def mutated(seed: int) -> bytes:
    """A spoilt design file; the seed says which."""
    rng = random.Random(seed)
    text = (ROOT / "tests" / "data" / rng.choice(BASES)).read_text(encoding="utf-8")
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        text = rng.choice(MUTATIONS)(text, rng)
    data = text.encode()
    if rng.random() < 0.05:
        at = rng.randrange(len(data) + 1)
        data = data[:at] + bytes(rng.randrange(128, 256) for _ in range(3)) + data[at:]
    return data


class Hang(Exception):
    """A file took longer than it may."""


def _hang(number: int, frame: FrameType | None) -> None:
    raise Hang


def outcome(data: bytes) -> str:
    """`refused`, the verdict, `hang`, or the traceback of a crash."""
    previous = signal.signal(signal.SIGALRM, _hang)
    signal.alarm(LONGEST)
    try:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "spoilt.toml"
            path.write_bytes(data)
            return prove(read(path)).verdict
    except (DesignError, CatalogueError, NothingToProve) as error:
        return "refused" if str(error).strip() else "refused without a word"
    except Hang:
        return "hang"
    except Exception:
        return traceback.format_exc()
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, previous)


VERDICTS = ("holds", "marginal", "falls short", "not proven")


def main() -> None:
    """Spoil, read, prove, count."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--quick", action="store_true", help=f"{QUICK_FILES} files only")
    parser.add_argument("--json", type=Path, help="write the figures to this file")
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    files = QUICK_FILES if chosen.quick else FILES
    started = time.perf_counter()
    counts: Counter[str] = Counter()
    crashes: dict[str, str] = {}
    for number in range(files):
        seed = chosen.seed * 100_000 + number
        found = outcome(mutated(seed))
        counts[found if found in (*VERDICTS, "refused", "hang") else "crash"] += 1
        if found not in (*VERDICTS, "refused"):
            crashes[str(seed)] = found
            print(f"seed {seed}: {found}")
    commit = subprocess.run(
        ("git", "rev-parse", "HEAD"), cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.strip()
    figures = {
        "files": files,
        "refused": counts["refused"],
        "proved": {verdict: counts[verdict] for verdict in VERDICTS},
        "crashes": counts["crash"],
        "hangs": counts["hang"],
        "which": crashes,
        "seed": chosen.seed,
        "machine": f"{platform.machine()}, {platform.python_implementation()} "
        f"{platform.python_version()}",
        "commit": commit,
    }
    print(json.dumps(figures, indent=1, ensure_ascii=False))
    print(f"{time.perf_counter() - started:.0f} s")
    if chosen.json:
        chosen.json.write_text(json.dumps(figures, indent=1, ensure_ascii=False) + "\n", "utf-8")


if __name__ == "__main__":
    main()
