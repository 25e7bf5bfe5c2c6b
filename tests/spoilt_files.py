"""Design files with random mistakes, and what the command line makes of them.

Supplies are spoilt at random: keys dropped, values put out of range, units and nets swapped,
decades slipped, pins exchanged, tables doubled, bytes that are no text. The command line gets each
file: a refusal has to name file and line, a small supply that can still be read is proved, and the
larger demo is only read. Warnings of numpy count as crashes.
"""

from __future__ import annotations

import json
import random
import re
import signal
import tempfile
import warnings
from collections.abc import Callable
from pathlib import Path
from types import FrameType

from click.testing import CliRunner

from railwright.cli import commands
from railwright.prove.as_json import EXIT_STATUS

ROOT = Path(__file__).resolve().parent.parent
SMALL = tuple(
    ROOT / "tests" / "data" / f"{name}.toml"
    for name in (
        "night_lamp", "trimmed_five_volts", "tripping_rail", "cabin_supply", "buffered_reference",
    )
)  # fmt: skip
DEMO = ROOT / "examples" / "radio-bench-rail.toml"
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
    lines = "\n".join(re.findall(r"(?m)^(?:nets|pins) = .*", text))
    nets = sorted(set(re.findall(r'= "([^"]+)"', lines)))
    if not nets:
        return text
    old, new = rng.choice(nets), rng.choice([*nets, "NOWHERE"])
    chosen = rng.choice(list(re.finditer(rf'= "{re.escape(old)}"', text)))
    return text[: chosen.start()] + f'= "{new}"' + text[chosen.end() :]


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


def base(seed: int) -> Path:
    """The design file that is spoilt."""
    return random.Random(seed).choice((*SMALL, DEMO))


def mutated(seed: int) -> bytes:
    """A spoilt design file; the seed says which."""
    rng = random.Random(f"mutations {seed}")
    sound = text = base(seed).read_text(encoding="utf-8")
    while text == sound:  # a mutation may find nothing to change
        for _ in range(rng.choice((1, 1, 1, 2, 3))):
            text = rng.choice(MUTATIONS)(text, rng)
    data = text.encode()
    if rng.random() < 0.05:
        at = rng.randrange(len(data) + 1)
        data = data[:at] + bytes(rng.randrange(128, 256) for _ in range(3)) + data[at:]
    return data


class Hang(BaseException):
    """A file took longer than it may: not an Exception, so that nobody takes it for an error."""


def _hang(number: int, frame: FrameType | None) -> None:
    raise Hang


STATUS = {str(verdict): status for verdict, status in EXIT_STATUS.items()}
VERDICTS = tuple(STATUS)
CLEAN = (*VERDICTS, "refused", "read")


def outcome(seed: int) -> str:
    """One of CLEAN, `hang`, or what the command printed instead."""
    previous = signal.signal(signal.SIGALRM, _hang)
    signal.alarm(LONGEST)
    try:
        with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
            warnings.simplefilter("error")
            return _told(Path(folder), mutated(seed), only_read=base(seed) == DEMO)
    except Hang:
        return "hang"
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, previous)


def _told(folder: Path, data: bytes, only_read: bool) -> str:
    """What the command line makes of a file."""
    path, results = folder / "spoilt.toml", folder / "results.json"
    path.write_bytes(data)
    words = ["check-file"] if only_read else ["prove", "--json", str(results)]
    found = CliRunner().invoke(commands, [*words, "--traceback", str(path)])
    if found.exit_code == 2 and _names_place(found.stderr, path):
        return "refused"
    if only_read and found.exit_code == 0:
        return "read"
    if results.exists():
        verdict = str(json.loads(results.read_text("utf-8"))["verdict"])
        if STATUS[verdict] == found.exit_code:
            return verdict
    return f"exit status {found.exit_code}: {found.output}"


def _names_place(said: str, path: Path) -> bool:
    """Whether a refusal names the file, and the lines unless the file as a whole is meant."""
    whole = ("the file is empty", "no parts to prove", "is missing", "lie too deep")
    placed = re.search(r"(?m)^ *\d+ \| ", said) is not None
    return str(path) in said and (placed or any(words in said for words in whole))
