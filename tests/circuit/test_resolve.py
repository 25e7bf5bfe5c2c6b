"""Where the value of a part comes from, and how wide it is."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from railwright.circuit.circuit import PartValue
from railwright.circuit.design import read, read_text
from railwright.circuit.part_table import PartForm
from railwright.files.complaints import Complaints
from railwright.files.mistakes import FileError
from railwright.files.source import parsed
from railwright.quantity import Spread
from tests.circuit.samples import LAMP, changed, mistakes

OWN = """
["240 class resistor"]
kind = "resistor"
trade = "film"
package = "axial"
pins = { one = "1", two = "2" }
resistance = { min = 990, typical = 1000, max = 1020, unit = "Ω", drift = "50 ppm/K", from = "a" }
rated_power = { max = 0.6, unit = "W", from = "b" }

["film resistor of the test"]
kind = "resistor"
trade = "film"
package = "axial"
resistance = { tolerance = "5 %", drift = "25 ppm/K", from = "c" }

["short transistor"]
like = "BC557B"
pins = { base = "1", collector = "2", emitter = "3" }
"""


class TestWhereAValueComesFrom:
    @pytest.fixture
    def folder(self, tmp_path: Path) -> Path:
        (tmp_path / "own.toml").write_text(OWN, encoding="utf-8")
        return tmp_path

    def resistance(self, folder: Path, lines: str, tolerance: str = "2 %") -> PartValue:
        text = changed('resistance = "240 Ω"', lines)
        wanted = f'resistor_tolerance = "{tolerance}"' if tolerance else ""
        text = changed('resistor_tolerance = "2 %"', f'own = "own.toml"\n{wanted}', text)
        path = folder / "sample.toml"
        path.write_text(text, encoding="utf-8")
        return read(path).circuit.part("R1").values["resistance"]

    def test_a_spread_of_the_part_before_all(self, folder: Path) -> None:
        own = '{ typical = "240 Ω", tolerance = "3 %" }'
        found = self.resistance(folder, f'use = "240 class resistor"\nresistance = {own}')
        assert found.spread == Spread.tolerance(240.0, 0.03)
        assert found.source == "design file"

    def test_the_entry(self, folder: Path) -> None:
        found = self.resistance(folder, 'use = "240 class resistor"')
        assert found.spread == Spread.limits(990.0, 1000.0, 1020.0, 50e-6)
        assert found.source == "a"

    def test_the_entry_s_spread_in_proportion(self, folder: Path) -> None:
        found = self.resistance(folder, 'use = "240 class resistor"\nresistance = "100 Ω"')
        spread = found.spread
        assert [spread.low, spread.typical, spread.high] == pytest.approx([99.0, 100.0, 102.0])
        assert (spread.shape, spread.drift) == ("triangular", 50e-6)
        assert found.source == "design file; spread: a"

    def test_a_class_of_parts(self, folder: Path) -> None:
        use = 'use = "film resistor of the test"'
        found = self.resistance(folder, f'{use}\nresistance = "27k"')
        assert found.spread.low == pytest.approx(27e3 * 0.95)
        assert found.spread.high == pytest.approx(27e3 * 1.05)
        assert (found.spread.shape, found.spread.drift) == ("uniform", 25e-6)
        assert not found.assumed

    def test_a_grade_of_the_catalogue(self) -> None:
        text = changed('"240 Ω"', '"27k"\nuse = "film resistor 0.25 W 1 %"')
        part = read_text(text, "sample.toml").circuit.part("R1")
        spread = part.values["resistance"].spread
        assert [spread.low, spread.high] == pytest.approx([26730.0, 27270.0])
        assert spread.drift == pytest.approx(50e-6)
        assert part.ratings["rated_power"] == 0.25

    def test_a_class_of_parts_brings_no_value(self, folder: Path) -> None:
        with pytest.raises(FileError, match="part R1: no resistance"):
            self.resistance(folder, 'use = "film resistor of the test"')

    def test_own_drift_before_the_entry_s(self, folder: Path) -> None:
        lines = 'resistance = { typical = "100 Ω", drift = "1 %/K" }'
        found = self.resistance(folder, f'use = "240 class resistor"\n{lines}')
        assert found.spread.drift == 0.01
        assert found.spread.low == pytest.approx(99)

    def test_the_need_s_tolerance(self, folder: Path) -> None:
        found = self.resistance(folder, 'resistance = "1k"')
        assert found.spread == Spread.tolerance(1000.0, 0.02)
        assert "need.parts" in found.source

    def test_the_assumed_spread(self, folder: Path) -> None:
        found = self.resistance(folder, 'resistance = "1k"', tolerance="")
        assert (found.spread.low, found.spread.high) == (950.0, 1050.0)
        assert found.assumed
        assert found.source == "design file; spread: 5 %, the widest grade in common use"

    def test_a_stated_limit_is_exact(self) -> None:
        text = changed('{ typical = "1.5 A", tolerance = "0 %" }', '"1.5 A"')
        value = read_text(text, "sample.toml").circuit.part("U1").values["rated_current"]
        assert value.spread == Spread.exact(1.5)
        assert not value.assumed

    def test_the_entry_s_ratings(self, folder: Path) -> None:
        self.resistance(folder, 'use = "240 class resistor"')
        part = read(folder / "sample.toml").circuit.part("R1")
        assert part.ratings == {"rated_power": 0.6}
        assert part.package == "axial"

    @pytest.mark.parametrize(
        ("use", "lines", "words"),
        [
            ("short transistor", "", '"short transistor" is a bipolar-transistor, not a resistor'),
            ("240 class resister", "", 'Nearest: "240 class resistor"'),
        ],
    )
    def test_the_wrong_entry(self, folder: Path, use: str, lines: str, words: str) -> None:
        with pytest.raises(FileError, match=words):
            self.resistance(folder, f'use = "{use}"\n{lines}')

    def test_what_the_entry_lacks(self, folder: Path) -> None:
        text = LAMP + (
            '[[part]]\nref = "Q1"\nkind = "bipolar-transistor"\nuse = "short transistor"\n'
            'options = { polarity = "npn" }\n'
            'pins = { base = "ADJ", emitter = "0V", collector = "OUT", case = "TAB" }\n'
        )
        with pytest.raises(FileError) as caught:
            read_text(text, "sample.toml", parts=[folder / "own.toml"])
        said = [mistake.text for mistake in caught.value.mistakes]
        assert any('"short transistor" has no pin "case"' in text for text in said)
        assert any('"short transistor" is pnp' in text for text in said)

    def test_own_policy(self, folder: Path) -> None:
        (folder / "strict.toml").write_text(
            'name = "strict"\nsource = "invented"\n[diode]\n"reverse voltage" = 0.2\n'
        )
        path = folder / "sample.toml"
        path.write_text(changed('derating = "none"', 'derating = "strict.toml"'))
        assert read(path).derating.ratio("diode", "reverse voltage") == 0.2

    def test_mistakes_of_an_own_policy_are_told_with_their_lines(self, folder: Path) -> None:
        (folder / "strict.toml").write_text(
            'name = "strict"\nsource = "invented"\n[diode]\n"reverse voltage" = 2\njunction = 1\n'
        )
        path = folder / "sample.toml"
        path.write_text(changed('derating = "none"', 'derating = "strict.toml"'))
        with pytest.raises(FileError, match=r"strict\.toml cannot be used, see below") as caught:
            read(path)
        (other,) = caught.value.others
        assert [mistake.line for mistake in other.mistakes] == [4, 5]

    def test_mistakes_of_an_own_file_are_told_one_by_one(self, folder: Path) -> None:
        wrong = '["one"]\nkind = "resistr"\n["other"]\nkind = "diod"\n'
        (folder / "own.toml").write_text(wrong, encoding="utf-8")
        with pytest.raises(FileError, match=r"own\.toml cannot be used, see below") as caught:
            self.resistance(folder, 'use = "240 class resistor"')
        (mistake,) = caught.value.mistakes  # what a file that cannot be read has is not missed
        assert mistake.key == "need.parts.own"
        (own,) = caught.value.others
        assert [(each.line, each.key) for each in own.mistakes] == [
            (2, "one.kind"),
            (4, "other.kind"),
        ]
        assert str(own) in str(caught.value)


@pytest.mark.parametrize("offset", ['"2 mV"', '{ max = "2 mV" }', '"-2 mV"'])
def test_an_offset_lies_on_either_side(offset: str) -> None:
    text = LAMP + (
        '[[part]]\nref = "A1"\nkind = "operational-amplifier"\n'
        f'pins = {{ plus = "ADJ", minus = "OUT" }}\noffset = {offset}\n'
    )
    assert "part[7].offset" not in [mistake.key for mistake in mistakes(text)]
    tables: Any = parsed(text, "a", "")
    table = PartForm().read(tables["part"][7], ("part", 7), Complaints("a", text, tables))
    assert table.values["offset"].spread == Spread.limits(-2e-3, 0.0, 2e-3)
