"""A design: a need and a circuit, read from one design file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from railwright.catalogue.entry import Entry
from railwright.catalogue.loader import load
from railwright.circuit.circuit import Circuit
from railwright.circuit.consistency import complain_of_contradictions
from railwright.circuit.need import Need, PartsPolicy
from railwright.circuit.resolve import resolve
from railwright.circuit.schema import Control, Document, Enclosure, PanelItem, Stage
from railwright.circuit.tables import Table
from railwright.files.complaints import Complaints
from railwright.files.mistakes import FileError
from railwright.files.source import parsed, source_text
from railwright.standards.derating import POLICIES, Policy, load_policy

BEGINS = 'A design begins with title = "..." and [need.input].'


@dataclass(frozen=True)
class Design:
    """What a design file says, in SI, with every value of every part resolved."""

    title: str
    path: Path | None
    """None where the text did not come from a file."""
    need: Need
    circuit: Circuit
    controls: tuple[Control, ...]
    enclosure: Enclosure | None
    panel: tuple[PanelItem, ...]
    stages: tuple[Stage, ...]
    derating: Policy

    @property
    def is_need_only(self) -> bool:
        """Whether there is no circuit yet: a file for propose."""
        return not self.circuit.parts


def read(path: str | Path, *, parts: Sequence[Path] = ()) -> Design:
    """The design in a file.

    parts: files with parts of one's own, in the catalogue's form. The design may name one more,
    as `own` under `[need.parts]`; it and a derating policy of one's own are looked for beside
    the design. FileError with every mistake of the file, and of a file of parts that it names.
    """
    path = Path(path)
    return _read(source_text(path), str(path), path, parts)


def read_text(
    text: str, name: str, *, path: Path | None = None, parts: Sequence[Path] = ()
) -> Design:
    """The design in a text that messages call by a name; as `read`.

    Files that the design names are looked for beside `path`, or in the current folder.
    """
    return _read(text, name, path, parts)


def catalogue_of(design: Design) -> Mapping[str, Entry]:
    """The parts that a design may use, those of one's own included."""
    own = design.need.parts.own
    if not own:
        return load()
    folder = design.path.parent if design.path else Path()
    return load(folder / own)


def _read(text: str, name: str, path: Path | None, parts: Sequence[Path]) -> Design:
    found = parsed(text, name, BEGINS)
    complaints = Complaints(name, text, found)
    document: Document = Table(Document).read(found, (), complaints)
    complain_of_contradictions(document, complaints)
    folder = path.parent if path else Path()
    catalogue, is_whole = _catalogue(document.need.parts, folder, parts, complaints)
    derating = _derating(document.need.parts, folder, complaints)
    resolved = resolve(document, catalogue, complaints, is_whole)
    complaints.finish()
    return Design(
        title=document.title,
        path=path,
        need=document.need,
        circuit=Circuit(resolved),
        controls=document.control,
        enclosure=document.enclosure,
        panel=document.panel,
        stages=document.stage,
        derating=derating,
    )


def _catalogue(
    policy: PartsPolicy, folder: Path, parts: Sequence[Path], complaints: Complaints
) -> tuple[Mapping[str, Entry], bool]:
    """The parts that the design may use, and whether they are all that it may use."""
    if not policy.own:
        return load(*parts), True
    try:
        return load(*parts, folder / policy.own), True
    except FileError as error:
        complaints.other(("need", "parts", "own"), error)
        return load(*parts), False


def _derating(policy: PartsPolicy, folder: Path, complaints: Complaints) -> Policy:
    if policy.derating in POLICIES or not policy.derating:
        return POLICIES[policy.derating or "none"]
    path = ("need", "parts", "derating")
    try:
        return load_policy(folder / policy.derating)
    except FileError as error:
        if error.source:
            complaints.other(path, error)
        else:
            known, why = ", ".join(POLICIES), error.mistakes[0].text
            text = f"neither one of {known} nor a file beside the design: {why}"
            complaints.value(path, text)
        return POLICIES["none"]
