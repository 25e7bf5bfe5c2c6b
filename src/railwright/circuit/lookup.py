"""Names that the tables of a design file use, looked up where they should be."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from railwright.circuit.circuit import is_thermal
from railwright.circuit.names import AIR
from railwright.circuit.need import Output, Terminals
from railwright.circuit.part_table import PartTable
from railwright.circuit.schema import Document
from railwright.devices import kinds
from railwright.files.complaints import Complaints
from railwright.files.locate import KeyPath
from railwright.files.mistakes import nearest


@dataclass(frozen=True)
class Lookup:
    """The names of a document, and complaints about those that it lacks."""

    document: Document
    complaints: Complaints

    def part(self, ref: str, path: KeyPath) -> PartTable | None:
        """The part of a ref that is used at a path."""
        parts = {part.ref: part for part in self.document.part}
        if ref and ref not in parts:
            self.complaints.value(path, f'there is no part "{ref}". {nearest(ref, parts)}')
        return parts.get(ref) if ref else None

    def rail(self, name: str, path: KeyPath) -> Output | None:
        """The output of a name that is used at a path."""
        rails = {output.name: output for output in self.document.need.output}
        if name and name not in rails and "" not in rails:
            text = f'there is no output "{name}". {nearest(name, rails)}'
            self.complaints.value(path, text)
        return rails.get(name) if name else None

    def net(self, name: str, path: KeyPath) -> None:
        """Complain where no electrical pin is on a net that is used at a path."""
        nets = {net for part in self.document.part for net in part.nets}
        if name and name not in nets:
            text = f'no part is on the net "{name}". {nearest(name, sorted(nets))}'
            self.complaints.value(path, text)
        elif name in self._thermal:
            self.complaints.value(path, f'the net "{name}" carries heat. Name an electrical one.')

    @property
    def _thermal(self) -> set[str]:
        joined = (
            (net, is_thermal(kinds()[part.kind], pin))
            for part in self.document.part
            for pin, net in part.pins.items()
        )
        return {AIR} | {net for net, thermal in joined if thermal}

    def terminals(self, nets: Terminals | None, path: KeyPath) -> None:
        """Complain of terminals that are missing, on no part, or on one net."""
        if not self.document.part:
            return
        if nets is None:
            text = 'nets is missing. Write nets = { plus = "...", minus = "..." }'
            self.complaints.value(path, f"{text}: only a file without parts may do without.")
            return
        self.net(nets.plus, (*path, "plus"))
        self.net(nets.minus, (*path, "minus"))
        if nets.plus and nets.plus == nets.minus:
            self.complaints.value(path, f'plus and minus are both "{nets.plus}". Name two nets.')

    def unique(self, key: str, table: str, names: Iterable[str]) -> None:
        """Complain of every further use of a name that is to be used once."""
        seen: set[str] = set()
        for index, name in enumerate(names):
            if name and name in seen:
                text = f'another has the {key} "{name}". Give each its own.'
                self.complaints.value((*table.split("."), index, key), text)
            seen.add(name)
