"""The command line. Whatever takes long to load is imported by the command that needs it."""

from __future__ import annotations

import io
import json
import os
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence, Sized
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO, TypeVar

import click

from railwright.bench.reading import USUAL
from railwright.files.mistakes import FileError

if TYPE_CHECKING:
    from rich.console import Console

    from railwright.bench.instruments.profile import Kind
    from railwright.bench.log import Log
    from railwright.bench.reading import Meter, Reading
    from railwright.bench.steps import Step
    from railwright.catalogue.entry import Entry
    from railwright.circuit.design import Design
    from railwright.circuit.need import Output
    from railwright.make.drawing.symbol import Standard
    from railwright.measure.by_instruments import Instruments
    from railwright.measure.compared import Compared
    from railwright.prove.proof import Proof
    from railwright.surveys.operating_range import Choice

UNUSABLE_INPUT, OUR_ERROR = 2, 4
REPORTS = (".html", ".pdf")
"""Endings that say what a report is written as."""
INTERRUPTED, READER_LEFT = 130, 141  # as a shell tells of the two signals
EXAMPLE = "radio-bench-rail.toml"
FIRST_BOARD = "radio-bench-rail-first-board.toml"
INSTRUMENTS = ("supply", "multimeter", "load", "oscilloscope")
SIMULATED_MOST, PATIENCE = ("60 V", "10 A", "100 W"), 600.0
"""What simulated source and load may be set to, and s within which they have to answer."""
_TRACEBACK = "railwright.traceback"

Command = TypeVar("Command", bound=Callable[..., Any])


class Refusal(click.ClickException):
    """Input that cannot be used, for another reason than the mistakes of a design file."""

    exit_code = UNUSABLE_INPUT


class Commands(click.Group):
    """Turns whatever ends a command into words for a person and an exit status for a script."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command that was asked for."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.Abort, click.exceptions.Exit):
            raise
        except FileError as error:
            click.echo(str(error), err=True)
            ctx.exit(UNUSABLE_INPUT)
        except KeyboardInterrupt:
            click.echo("Stopped.", err=True)
            ctx.exit(INTERRUPTED)
        except BrokenPipeError:
            _print_no_more(sys.stdout, sys.stderr)
            ctx.exit(READER_LEFT)
        except Exception as error:
            _confess(error, bool(ctx.meta.get(_TRACEBACK)))
            ctx.exit(OUR_ERROR)


def _print_no_more(*streams: TextIO) -> None:
    """Send what is still to be printed nowhere, so that the interpreter ends without complaint."""
    for stream in streams:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _confess(error: Exception, with_traceback: bool) -> None:
    """Say that the fault is ours, and what would help to find it."""
    import platform
    import traceback

    if with_traceback:
        traceback.print_exception(error)
    said = " ".join(f"{type(error).__name__}: {error}".split())
    click.echo(
        f"Railwright failed, and the fault is its own: {said}\n"
        "Please report it, and send the design file with what this command prints when "
        "--traceback is added to it.\n"
        f"(railwright {_version()}, Python {platform.python_version()}, {platform.platform()})",
        err=True,
    )


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("railwright")
    except PackageNotFoundError:
        return "from a checkout"


def _print_version(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:
    if wanted:
        click.echo(f"railwright {_version()}")
        ctx.exit()


def _keep_traceback(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:
    ctx.meta[_TRACEBACK] = wanted


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_print_version,
    help="Print the version and end.",
)
def commands() -> None:
    """Takes a DC power supply from the need to the boxed, measured instrument.

    Exit status: 0 everything is within its limits, 1 something falls short, 2 unusable input,
    3 something could not be proven, 4 an error of Railwright's own.
    """


_traceback = click.option(
    "--traceback",
    is_flag=True,
    expose_value=False,
    callback=_keep_traceback,
    help="Where Railwright itself fails, print where.",
)
_file = click.argument("file", type=click.Path(path_type=Path))


def _meter(_: click.Context, parameter: click.Parameter, accuracy: str) -> Meter:
    from railwright.bench.reading import Meter, ReadingError

    try:
        return Meter.of_words(accuracy)
    except ReadingError as error:
        raise Refusal(f"--{parameter.name}: {error}") from error


_metered = click.option(
    "--meter",
    default=USUAL,
    show_default=True,
    callback=_meter,
    help="How far the meter may be off.",
)

_logged = click.option(
    "--log",
    type=click.Path(dir_okay=False, path_type=Path),
    help="The log of this supply; FILE with .readings where none is named.",
)


def _proving(command: Command) -> Command:
    """The options of every command that proves a design."""
    path = click.Path(dir_okay=False, path_type=Path)
    for option in (
        _traceback,
        click.option("--quick", "depth", flag_value="quick", help="Static questions, no samples."),
        click.option("--deep", "depth", flag_value="deep", help="More of the spread everywhere."),
        click.option("--remedy", is_flag=True, help="Search changes that mend what falls short."),
        click.option("--quiet", is_flag=True, help="Print one line, and no progress."),
        click.option(
            "--seed",
            type=click.IntRange(min=0),
            default=1,
            show_default=True,
            help="Of the samples; the same seed gives the same result.",
        ),
        click.option(
            "--report", type=path, help="Write a report with figures, FILE.html or FILE.pdf."
        ),
        click.option("--json", "as_data", type=path, help="Write the results for machines."),
    ):
        command = option(command)
    return command


@commands.command("prove")
@_file
@click.argument("other", required=False, type=click.Path(path_type=Path))
@_proving
def prove_file(file: Path, other: Path | None, **options: Any) -> None:
    """Prove the design in FILE over its range and its parts' spread.

    With OTHER, prove both and show what differs from FILE to OTHER and what that did, check by
    check. The exit status is that of OTHER.
    """
    if other is None:
        _prove(file, **options)
    else:
        _compare(file, other, **options)


@commands.command()
@click.option("--first-board", is_flag=True, help="The same supply as it was first built.")
@_proving
def demo(first_board: bool, **options: Any) -> None:
    """Prove the design of a bench supply that comes with Railwright."""
    _prove(_example(FIRST_BOARD if first_board else EXAMPLE), **options)


@commands.command("propose")
@_file
@click.option(
    "--write",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    help="Write a design file per candidate into a folder, which is made where it is not there.",
)
@click.option(
    "--json",
    "as_data",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the results for machines.",
)
@click.option(
    "--picture",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Draw efficiency and heat of all candidates over the range, as SVG.",
)
@click.option("--quick", is_flag=True, help="Prove at depth quick alone; recommends none.")
@click.option("--quiet", is_flag=True, help="Print one line, and no progress.")
@_traceback
def propose_for(
    file: Path,
    folder: Path | None,
    as_data: Path | None,
    picture: Path | None,
    quick: bool,
    quiet: bool,
) -> None:
    """Work out which kinds of supply serve the need in FILE, with sized and proved parts.

    FILE has only [need...]; its nets may be left out. Exit status: 0 a candidate serves, 1 none
    does, 3 something of the best one could not be proven.
    """
    from railwright.circuit.design import read
    from railwright.files.source import source_text
    from railwright.pages.progress import listener
    from railwright.pages.whole_file import write_whole
    from railwright.propose.as_json import as_json, exit_status
    from railwright.propose.candidates import HasCircuit, propose
    from railwright.propose.picture import side_by_side
    from railwright.propose.side_by_side import SideBySide, headline
    from railwright.propose.written import refuse_taken, write_candidates
    from railwright.surveys.depth import DEFAULT, QUICK

    _refuse_unwritable(file, outputs=[as_data, picture, folder])
    if folder is not None and (taken := refuse_taken(folder, file.stem)):
        raise Refusal(f"{taken} is there already. Name another folder, or move it away.")
    try:
        with listener(quiet) as told:
            found = propose(
                read(file),
                source_text(file),
                depth=QUICK if quick else DEFAULT,
                progress=told.progress,
            )
    except HasCircuit as error:
        raise Refusal(f"{file}: {error}") from error
    _console().print(headline(found) if quiet else SideBySide(found), soft_wrap=quiet)
    written: list[Path] = []
    if folder is not None:
        into = folder
        _write_file(into, lambda: written.extend(write_candidates(found, into, file.stem)))
    if as_data:
        _write_file(as_data, lambda: _write_data(as_data, as_json(found)))
    drawn = picture if found.candidates else None
    if drawn:
        _write_file(drawn, lambda: write_whole(drawn, side_by_side(found)))
    if not quiet:
        _tell_written(*written, as_data, drawn)
        if picture and not drawn:
            click.echo(f"{picture} is not written: there is no candidate to draw.", err=True)
    click.get_current_context().exit(exit_status(found))


@commands.command("make")
@_file
@click.option(
    "--out",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    required=True,
    help="A folder that is not there yet; all documents are written into it, or none.",
)
@click.option(
    "--symbols",
    type=click.Choice(["IEC", "ANSI"]),
    default="IEC",
    show_default=True,
    help="Of the schematic: IEC 60617, or resistors as ANSI/IEEE 315 has them.",
)
@click.option(
    "--setting",
    "settings",
    multiple=True,
    help="Of an output, as '5 V' or 'main=5 V': where the drawing tells voltages. Else the middle.",
)
@click.option("--load", "loads", multiple=True, help="The same for its load, as '0.5 A'.")
@click.option("--input", "fed", default="", help="The same for the input; else its nominal one.")
@click.option("--ambient", default="", help="The same for the air; else 25 °C.")
@click.option("--quiet", is_flag=True, help="Print one line, and no progress.")
@_traceback
def make_documents(
    file: Path,
    folder: Path,
    symbols: Standard,
    settings: tuple[str, ...],
    loads: tuple[str, ...],
    fed: str,
    ambient: str,
    quiet: bool,
) -> None:
    """Write what is needed to buy, wire, drill and solder the design in FILE.

    The numbers are those of a proof at depth default; the exit status is that of `prove`.
    """
    from railwright.circuit.design import read
    from railwright.make.written import documents
    from railwright.pages.whole_file import write_folder
    from railwright.prove.as_json import exit_status
    from railwright.quantity import QuantityError
    from railwright.surveys.choice_words import choice_of
    from railwright.surveys.operating_range import BeyondRange

    _refuse_unwritable(file, outputs=[folder])
    if folder.exists():
        raise Refusal(f"{folder} is there already. Name another folder, or move it away.")
    design = read(file)
    rails = [output.name for output in design.need.output]
    try:
        choice = choice_of(rails, settings, loads, fed, ambient)
        proof = _proved(file, design, quiet, seed=1, depth=None, nets=choice)
    except (QuantityError, BeyondRange) as error:
        raise Refusal(f"The operating point of the drawing: {error}") from error
    made = documents(design, proof, symbols=symbols)
    _write_file(folder, lambda: write_folder(folder, made.files))
    if not quiet:
        for name, reason in made.unmade.items():
            click.echo(f"Not made: {name}: {reason}", err=True)
    click.echo(
        f"{design.title}: {proof.verdict}. Written: {_counted(made.files, 'file')} in {folder}"
    )
    click.get_current_context().exit(exit_status(proof))


@commands.command("measure")
@_file
@_logged
@click.option(
    "--readings",
    type=click.Path(path_type=Path),
    help="Take readings from a CSV file (stage, quantity, red, value, unit) and ask nobody.",
)
@_metered
@click.option("--multimeter", help="VISA address of a multimeter that takes the readings.")
@click.option("--supply", help="VISA address of the bench source, set and switched for each stage.")
@click.option("--load", help="VISA address of an electronic load.")
@click.option("--oscilloscope", help="VISA address of an oscilloscope.")
@click.option(
    "--profile",
    "profiles",
    nargs=2,
    multiple=True,
    type=(click.Choice(INSTRUMENTS), Path),
    help="A TOML file with commands of an instrument's own: supply mine.toml.",
)
@click.option(
    "--most",
    nargs=2,
    default=("0 V", "0 A"),
    help="Voltage and current that the bench source may be set to at most, as 20 V 0.5 A.",
)
@click.option(
    "--characterise",
    "further",
    is_flag=True,
    help="Once it is brought up: outputs over settings and loads, steps of the load, the trip.",
)
@click.option(
    "--load-most",
    nargs=3,
    default=("0 V", "0 A", "0 W"),
    help="The most that the electronic load may have and take, as 15 V 1.5 A 20 W.",
)
@click.option("--simulated", is_flag=True, help="On a simulated bench, to try it: no hardware.")
@click.option("--fault", help='What is wrong there: "R7 open", or any.')
@click.option(
    "--trouble",
    "troubles",
    nargs=3,
    multiple=True,
    type=(click.Choice(INSTRUMENTS), click.Choice(["hangs up", "wrong", "stale"]), str),
    help="What goes wrong there once, at which message: supply 'hangs up' MEAS.",
)
@click.option("--seed", type=click.IntRange(min=0), default=1, help="Of its parts.")
@click.option(
    "--csv",
    "table",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write all readings of the log for other programs.",
)
@_traceback
def measure_supply(
    file: Path,
    log: Path | None,
    readings: Path | None,
    meter: Meter,
    profiles: tuple[tuple[Kind, Path], ...],
    most: tuple[str, str],
    further: bool,
    load_most: tuple[str, str, str],
    simulated: bool,
    fault: str | None,
    troubles: tuple[tuple[Kind, str, str], ...],
    seed: int,
    table: Path | None,
    **addresses: Any,
) -> None:
    """Walk through bringing up the supply in FILE: what to do, what to read, whether it is right.

    Every reading is kept at once; the same command goes on where it was left. Instruments are used
    where their addresses are given: the bench source within the bounds of --most, and off at any
    end. Exit status: 0 every reading is inside its window, 1 one is outside, 3 some are not taken
    yet.
    """
    from railwright.bench.instruments.line import InstrumentError
    from railwright.bench.instruments.profile import ProfileError
    from railwright.bench.log import LogError, log_of, opened
    from railwright.bench.reading import ReadingError
    from railwright.bench.steps import course
    from railwright.measure.by_instruments import on_the_bench
    from railwright.measure.promised import NotReady
    from railwright.measure.walk import walk
    from railwright.pages.whole_file import write_whole
    from railwright.quantity import QuantityError

    if (fault or troubles) and not simulated:
        raise Refusal("--fault and --trouble are simulated. Add --simulated, or leave them out.")
    path = log or log_of(file, simulated)
    _refuse_unwritable(file, outputs=[table])
    design = _built(file)
    asked = _reading_person if readings is None else _reading_file(readings)
    named: dict[Kind, str] = {kind: at for kind, at in addresses.items() if at}  # type: ignore[misc]
    click.echo("Working out what has to be read ...", err=True)
    try:
        with (
            _simulation(design, fault, troubles, seed, meter)
            if simulated
            else on_the_bench(
                asked, _fitting_person, named, most, load_most, profiles=dict(profiles)
            ) as by,
            opened(path, design.title) as kept,
        ):
            outcome = walk(course(design), kept, by, click.echo, meter, by.off)
            status = outcome.status
            if further and status == 0:
                status = _characterise(design, by, kept, meter, simulated)
            written = kept.as_csv()
    except (
        LogError,
        InstrumentError,
        NotReady,
        ProfileError,
        QuantityError,
        ReadingError,
    ) as error:
        raise Refusal(str(error)) from error
    click.echo(
        f"{design.title}: {_counted(outcome.read, 'reading')}, {len(outcome.outside)} outside, "
        f"{len(outcome.left_open)} open. {outcome.ended}".rstrip()
    )
    if table:
        _write_file(table, lambda: write_whole(table, written))
        _tell_written(table)
    click.get_current_context().exit(status)


@commands.command("measured")
@_file
@_logged
@click.option(
    "--readings",
    type=click.Path(path_type=Path),
    help="Take readings from a CSV file instead (quantity, red, black, value, unit, setting, "
    "load, input, ambient).",
)
@_metered
@click.option(
    "--sheet",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Prove, and write the specification with what was measured: .html or .pdf.",
)
@click.option(
    "--json",
    "as_data",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the comparison for other programs.",
)
@_traceback
def measured_supply(
    file: Path,
    log: Path | None,
    readings: Path | None,
    meter: Meter,
    sheet: Path | None,
    as_data: Path | None,
) -> None:
    """Hold what was measured on the supply in FILE against what is predicted at the same places.

    Readings count that say where in the operating range they were taken. Exit status: 0 all are as
    predicted and keep what the need promises, 1 one is not or does not, 3 nothing was compared.
    """
    from railwright.bench.log import LogError, log_of, opened
    from railwright.bench.reading import ReadingError
    from railwright.bench.rows import of_rows
    from railwright.measure.as_json import as_json
    from railwright.measure.compared import compared, exit_status, left_out
    from railwright.measure.told import Beside

    _refuse_report(sheet)
    _refuse_unwritable(file, outputs=[sheet, as_data])
    design, path = _built(file), log or log_of(file)
    if readings is None and not path.exists():
        raise Refusal(f"{path}: there is no log. Measure first, or name one with --log.")
    try:
        if readings is not None:
            known = of_rows(_rows_of(readings), meter)
        else:
            with opened(path, design.title) as kept:
                known = list(kept.readings())
    except (LogError, ReadingError) as error:
        raise Refusal(str(error)) from error
    click.echo("Working out what a sound supply reads there ...", err=True)
    found = compared(design, known)
    _console().print(Beside(found, left_out(design, known)))
    if as_data:
        _write_data(as_data, as_json(design, found))
        _tell_written(as_data)
    if sheet:
        _write_measured(sheet, file, design, found)
    click.get_current_context().exit(exit_status(found))


def _write_measured(out: Path, file: Path, design: Design, found: Sequence[Compared]) -> None:
    """The specification with what was measured, as its name wants it."""
    from railwright.measure.sheet import sheet
    from railwright.pages.drawing import FILE, PAGE
    from railwright.pages.sheet_html import html
    from railwright.pages.sheet_pdf import pdf
    from railwright.pages.whole_file import write_whole

    proof = _proved(file, design, False, 1, None)
    on_paper = out.suffix.lower() == ".pdf"
    whole = [sheet(design, proof, found, FILE if on_paper else PAGE)]
    content = pdf(whole) if on_paper else html(whole)
    _write_file(out, lambda: write_whole(out, content))
    _tell_written(out)


@commands.command("mend")
@_file
@click.option(
    "--readings",
    type=click.Path(path_type=Path),
    help="A CSV file (quantity, red, black, value, unit, under); else the log of `measure`.",
)
@click.option(
    "--priors",
    type=click.Path(path_type=Path),
    help="A TOML file with a table [weight]: how often each family of faults is found.",
)
@click.option("--pairs", is_flag=True, help="Also suspect two things at once.")
@_metered
@click.option(
    "--as-built",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Where nothing is wrong, learn the parts' values and write a design file that has them.",
)
@_traceback
def mend_supply(
    file: Path,
    readings: Path | None,
    priors: Path | None,
    pairs: bool,
    meter: Meter,
    as_built: Path | None,
) -> None:
    """Find what is wrong with the built supply in FILE from what was read on it.

    It is fed from a bench source as at the stage that was measured last, switched on, unloaded.
    Says which suspects explain the readings and why, which of them no reading in reach tells apart,
    and what to read next. With --as-built the readings of all stages tell the values of the parts.
    Exit status: 0, or 1 where the values were asked for and something is wrong.
    """
    from railwright.bench.log import LogError, log_of, opened
    from railwright.bench.reading import ReadingError
    from railwright.bench.rows import of_rows
    from railwright.bench.steps import fitted_at
    from railwright.mend.diagnosis import Finder
    from railwright.mend.predicted import Supply
    from railwright.mend.told import Suspicion
    from railwright.surveys.suspects import PriorsError

    _refuse_unwritable(file, outputs=[as_built])
    design, log = _built(file), log_of(file)
    try:
        if readings is not None:
            known = of_rows(_rows_of(readings), meter)
        elif log.exists():
            with opened(log, design.title) as kept:
                known = list(kept.readings())
        else:
            known = []
        stage = known[-1].stage if known else ""
        last = [reading for reading in known if reading.stage == stage]
    except (LogError, ReadingError) as error:
        raise Refusal(str(error)) from error
    click.echo("Working out what every suspect would do ...", err=True)
    try:
        supply = Supply(design, fitted_at(design, stage) if stage else (), priors)
    except PriorsError as error:
        raise Refusal(str(error)) from error
    finder = Finder(supply)
    found = finder.diagnose(last, meter)
    if pairs:
        found = finder.with_pairs(found).diagnose(last, meter)
    _console().print(Suspicion(found, len(last), supply))
    if as_built is not None:
        if found.is_fault:
            click.echo(f"{as_built} is not written: something is wrong.", err=True)
            click.get_current_context().exit(1)
        _learn(file, design, known, as_built)


def _learn(file: Path, design: Design, readings: Sequence[Reading], out: Path) -> None:
    """Write a design file with the values that readings tell, and say them."""
    from railwright.circuit.writer import EditError
    from railwright.files.source import source_text
    from railwright.mend.as_built import as_built
    from railwright.mend.built import Built
    from railwright.mend.feasible import LearnError
    from railwright.mend.foretold import foretold
    from railwright.mend.learn import Learning
    from railwright.mend.learned_told import Lesson
    from railwright.pages.whole_file import write_whole

    click.echo("Working out what the readings tell of the parts ...", err=True)
    try:
        learning = Learning(Built(design, readings))
        learned = learning.learned()
        text = as_built(source_text(file), design, learned)
    except (LearnError, EditError) as error:
        raise Refusal(str(error)) from error
    _console().print(Lesson(learned, foretold(learning)))
    _write_file(out, lambda: write_whole(out, text))
    _tell_written(out)


@commands.command("desk")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    help="Where the page listens; any that is free where none is named.",
)
@_traceback
def desk_page(file: Path | None, port: int) -> None:
    """Open a page over one supply, from the need to the measured instrument.

    It is served on this machine alone, to whoever has the address that is printed. Design files
    under the current folder can be opened.
    """
    from railwright.desk.opened import Outside
    from railwright.desk.serve import serve

    try:
        serve(Path.cwd(), file, port, lambda address: click.echo(f"Open {address}"))
    except Outside as error:
        raise Refusal(
            f"{error} is not under this folder. Start the desk in a folder above it."
        ) from error
    except OSError as error:
        raise Refusal(f"port {port} cannot be listened on: {error.strerror}.") from error


def _built(file: Path) -> Design:
    """The design of a supply that stands on the bench, its cautions told."""
    from railwright.circuit.design import read
    from railwright.prove.unasked import cautions

    design = read(file)
    if design.is_need_only:
        raise Refusal(f"{file}: there is no circuit on the bench yet, the file has a need alone.")
    for text in cautions(design):
        click.echo(f"Caution: {text}")
    return design


def _characterise(design: Design, by: Instruments, log: Log, meter: Meter, simulated: bool) -> int:
    """Characterise a supply that was brought up; the exit status."""
    from railwright.measure.characterise import Kit, characterise, plan_of
    from railwright.measure.promised import promised

    kit = Kit.of(by, meter, **({"pause": 0.0} if simulated else {}))
    click.echo("Working out what is promised ...", err=True)
    promise = promised(design)
    click.echo(plan_of(promise))
    person = by.hands if by.hands is not None else _Prompting()
    found = characterise(design, promise, kit, log, person, click.echo)
    read = _counted(found.read, "reading")
    click.echo(f"Characterised: {read}, {found.outside} outside. {found.ended}".rstrip())
    return found.status


class _Prompting:
    """Asks the person at the terminal to do what characterising wants."""

    def connect(self, rail: Output, text: str) -> str:
        return _prompted(text)

    def turn(self, part: str, volts: float, text: str) -> str:
        return _prompted(text)

    def join(self, joined: bool, text: str) -> str:
        return _prompted(text)


@contextmanager
def _simulation(
    design: Design,
    fault: str | None,
    troubles: Sequence[tuple[Kind, Any, str]],
    seed: int,
    meter: Meter,
) -> Iterator[Instruments]:
    """The instruments of a simulated bench, with hands that do as they are told."""
    from railwright.bench.hidden import Hidden
    from railwright.bench.simulated.bench import FaultError, fault_of, simulated_bench
    from railwright.bench.simulated.serving import Trouble
    from railwright.measure.by_instruments import on_the_bench

    try:
        faults = (fault_of(design, fault, seed),) if fault else ()
    except FaultError as error:
        raise Refusal(f"--fault: {error}") from error
    wanted: dict[Kind, list[Trouble]] = {}
    for kind, what, message in troubles:
        wanted.setdefault(kind, []).append(Trouble(what, message, text="NONSENSE"))
    with (
        simulated_bench(design, Hidden(seed, faults), meter, wanted) as bench,
        on_the_bench(
            bench.hands.read,
            bench.hands.ready,
            bench.addresses,
            SIMULATED_MOST[:2],
            SIMULATED_MOST,
            timeout=PATIENCE,
        ) as by,
    ):
        by.hands = bench.hands
        yield by


def _fitting_person(step: Step) -> str:
    from railwright.quantity import show

    assert step.feed is not None
    asked = f"Fitted and connected? Then {show(step.feed.volts, 'V')} is switched on (Enter)"
    return _prompted(asked)


def _reading_person(step: Step) -> str:
    return _prompted(f"{step.place.told}, {step.told}")


def _prompted(text: str) -> str:
    """What a person answers; who ends the input leaves."""
    from railwright.measure.walk import LEAVE

    try:
        found: str = click.prompt(text, default="", show_default=False, prompt_suffix=": ")
    except click.Abort:
        click.echo()
        return LEAVE
    return found


def _reading_file(path: Path) -> Callable[[Step], str]:
    from railwright.measure.walk import from_rows

    return from_rows(_rows_of(path))


def _rows_of(path: Path) -> Iterator[dict[str, str]]:
    import csv

    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise Refusal(f"{path} cannot be read: {error.strerror}.") from error
    except UnicodeDecodeError as error:
        raise Refusal(f"{path} is no text. Save it as CSV, UTF-8.") from error
    return iter(csv.DictReader(io.StringIO(text)))


@commands.command("check-file")
@_file
@_traceback
def check_file(file: Path) -> None:
    """Look for mistakes in the design FILE, without proving it."""
    from railwright.circuit.design import read
    from railwright.pages.wording import printable

    design = read(file)
    rails = [output.name for output in design.need.output]
    parts, nets = _counted(design.circuit.parts, "part"), _counted(design.circuit.nets, "net")
    told = [
        f"{_counted(rails, 'output')} ({', '.join(rails)})",
        "no circuit yet" if design.is_need_only else f"{parts} on {nets}",
        _counted(design.controls, "control"),
    ]
    click.echo(printable(f"{file}: no mistakes. {design.title}: {', '.join(told)}."))


@commands.command("part")
@click.argument("name", nargs=-1, required=True)
@click.option(
    "--parts",
    type=click.Path(path_type=Path),
    multiple=True,
    help="A file with parts of your own; may be given several times.",
)
@click.option(
    "--json",
    "as_data",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the part for machines.",
)
@_traceback
def show_part(name: tuple[str, ...], parts: tuple[Path, ...], as_data: Path | None) -> None:
    """Show the catalogue part NAME: its pins, its values, and where each of them is from."""
    from railwright.catalogue.as_json import as_json
    from railwright.catalogue.loader import load
    from railwright.pages.part_sheet import PartSheet

    _refuse_unwritable(*parts, outputs=[as_data])
    catalogue, wanted = load(*parts), " ".join(name)
    if wanted not in catalogue:
        raise Refusal(_no_such_part(wanted, catalogue))
    _console().print(PartSheet(catalogue[wanted]))
    if as_data:
        _write_file(as_data, lambda: _write_data(as_data, as_json(catalogue[wanted])))
        _tell_written(as_data)


def _no_such_part(wanted: str, catalogue: Mapping[str, Entry]) -> str:
    from railwright.catalogue.near import near
    from railwright.pages.wording import printable

    found = ", ".join(f'"{name}"' for name in near(wanted, catalogue))
    where = f"Near: {found}." if found else "docs/parts.md lists them all."
    return printable(f'there is no part "{wanted}" in the catalogue. {where}')


def _counted(things: Sized, what: str) -> str:
    return f"{len(things)} {what}{'s' * (len(things) != 1)}"


def _example(name: str) -> Path:
    """A design that comes with the package: in the wheel, or beside `src` in a checkout."""
    here = Path(__file__).resolve().parent
    folders = (here / "examples", here.parents[1] / "examples")
    found = next((path for path in (folder / name for folder in folders) if path.is_file()), None)
    if found is None:
        looked = " nor in ".join(map(str, folders))
        raise FileNotFoundError(f"the example {name} is neither in {looked}")
    return found


def _prove(
    file: Path,
    as_data: Path | None,
    report: Path | None,
    quiet: bool,
    remedy: bool,
    **how: Any,
) -> None:
    from railwright.circuit.design import read
    from railwright.prove.as_json import exit_status

    _refuse_report(report)
    _refuse_unwritable(file, outputs=[as_data, report])
    design = read(file)
    proof = _proved(file, design, quiet, **how)
    if remedy:
        proof = _remedied(design, proof, quiet, how["depth"])
    _print(proof, quiet)
    _write(proof, as_data, report, quiet)
    click.get_current_context().exit(exit_status(proof))


def _proved(
    file: Path,
    design: Design,
    quiet: bool,
    seed: int,
    depth: str | None,
    nets: Choice | None = None,
) -> Proof:
    from railwright.pages.progress import listener
    from railwright.prove.run import NothingToProve, prove
    from railwright.surveys.depth import DEFAULT, DEPTHS

    try:
        with listener(quiet) as told:
            return prove(
                design,
                seed=seed,
                depth=DEPTHS[depth or DEFAULT.name],
                nets=nets,
                progress=told.progress,
                announce=told.announce,
            )
    except NothingToProve as error:
        raise Refusal(f"{file}: {error}") from error


def _remedied(design: Design, proof: Proof, quiet: bool, depth: str | None) -> Proof:
    from railwright.files.source import source_text
    from railwright.pages.progress import listener
    from railwright.prove.remedy import remedied
    from railwright.surveys.depth import DEFAULT, DEPTHS

    assert design.path is not None  # it was read from a file
    text = source_text(design.path)
    with listener(quiet) as told:
        return remedied(design, text, proof, DEPTHS[depth or DEFAULT.name], told.progress)


def _compare(
    file: Path,
    other: Path,
    as_data: Path | None,
    report: Path | None,
    quiet: bool,
    remedy: bool,
    **how: Any,
) -> None:
    from railwright.circuit.design import read
    from railwright.pages.comparison import Changes, headline
    from railwright.prove.as_json import comparison_as_json, exit_status
    from railwright.prove.compare import compare

    if remedy:
        raise Refusal("--remedy mends one design. Leave it out, or prove one file.")
    if report is not None:
        raise Refusal("--report shows one proof. Leave it out, or prove one file.")
    _refuse_unwritable(file, other, outputs=[as_data])
    designs = read(file), read(other)
    proofs = _proved(file, designs[0], quiet, **how), _proved(other, designs[1], quiet, **how)
    found = compare(designs, proofs)
    _console().print(headline(found) if quiet else Changes(found), soft_wrap=quiet)
    if as_data:
        _write_file(as_data, lambda: _write_data(as_data, comparison_as_json(found)))
        _tell_written(*[as_data] * (not quiet))
    click.get_current_context().exit(exit_status(proofs[1]))


def _refuse_report(report: Path | None) -> None:
    if report is not None and report.suffix.lower() not in REPORTS:
        raise Refusal(f"{report} cannot be written: a report is {' or '.join(REPORTS)}. Rename it.")


def _refuse_unwritable(*read: Path, outputs: Sequence[Path | None]) -> None:
    """Refuse before the work what could not be written after it."""
    taken = {path.resolve(): "a file that is read" for path in read}
    for path in filter(None, outputs):
        if not path.absolute().parent.is_dir():
            raise Refusal(f"{path} cannot be written: there is no folder {path.parent}. Make it.")
        if not os.access(path.absolute().parent, os.W_OK):
            raise Refusal(f"{path} cannot be written: its folder may not be written to.")
        if path.resolve() in taken:
            raise Refusal(f"{path} is {taken[path.resolve()]} already. Name another file.")
        taken[path.resolve()] = "what another option writes"


def _print(proof: Proof, quiet: bool) -> None:
    from railwright.pages.ledger import Ledger, headline

    _console().print(headline(proof) if quiet else Ledger(proof), soft_wrap=quiet)


def _console() -> Console:
    from rich.console import Console

    class Quitting(Console):
        """A console whose reader may leave early; the exit status stays that of the verdict."""

        def on_broken_pipe(self) -> None:
            """Print nothing more."""
            self.quiet = True
            _print_no_more(sys.stdout)

    return Quitting(highlight=False, emoji=False)


def _write(proof: Proof, as_data: Path | None, report: Path | None, quiet: bool) -> None:
    from railwright.prove.as_json import as_json

    if as_data:
        _write_file(as_data, lambda: _write_data(as_data, as_json(proof)))
    if report and report.suffix.lower() == ".pdf":
        from railwright.pages.printed import write_printed

        _write_file(report, lambda: write_printed(proof, report))
    elif report:
        from railwright.pages.report import write_report

        _write_file(report, lambda: write_report(proof, report))
    if not quiet:
        _tell_written(as_data, report)


def _write_file(path: Path, write: Callable[[], None]) -> None:
    try:
        write()
    except OSError as error:
        raise Refusal(f"{error.filename or path} cannot be written: {error.strerror}.") from error


def _write_data(path: Path, data: Mapping[str, object]) -> None:
    from railwright.pages.whole_file import write_whole

    text = json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False)
    write_whole(path, text + "\n")


def _tell_written(*paths: Path | None) -> None:
    for path in filter(None, paths):
        click.echo(f"Written: {path}", err=True)


def main() -> None:
    """Run the command line and end the process with its exit status."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal that has no ohm sign gets a question mark, not a traceback.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    commands(prog_name="railwright")
