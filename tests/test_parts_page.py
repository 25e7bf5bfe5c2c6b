"""The page of all kinds and parts is what the data say, whole."""

import re
import subprocess
import sys
from pathlib import Path

from railwright.catalogue.loader import load

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "parts.md"


def test_is_what_its_script_makes() -> None:
    """In a process of its own, where no test has declared a kind."""
    code = (
        "import sys; sys.path.insert(0, 'scripts'); import parts_page; "
        "sys.stdout.buffer.write(parts_page.page().encode())"
    )
    words = (sys.executable, "-c", code)
    done = subprocess.run(words, cwd=ROOT, capture_output=True, check=True)
    made = done.stdout.decode("utf-8")
    assert made == PAGE.read_text(encoding="utf-8"), "run scripts/parts_page.py"


def test_has_the_provenance_of_every_value() -> None:
    sections = re.split(r"\n###? ", PAGE.read_text(encoding="utf-8"))
    by_part = {section.partition("\n")[0]: section for section in sections}
    for name, entry in load().items():
        lines = by_part[name].splitlines()
        for value, known in [*entry.values.items(), *entry.windows.items()]:
            rows = [line for line in lines if line.startswith(f"| {value} |")]
            assert rows, (name, value)
            assert all(known.source in row for row in rows), (name, value)
        assert not entry.warning or f"**Caution:** {entry.warning}." in lines
