"""A proof as one page that needs no network and no script: HTML with its figures inside."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from html import escape
from importlib.resources import files
from pathlib import Path
from string import Template

from railwright.pages import wording
from railwright.pages.binding import BINDING_CAPTION, bindings
from railwright.pages.binding_map import binding_map
from railwright.pages.curve_figures import curve_figures
from railwright.pages.fault_table import fault_table
from railwright.pages.figures import (
    MAP_CAPTION,
    MOST_FIGURES,
    margin_map,
    sample_histogram,
    samples_caption,
)
from railwright.pages.whole_file import write_whole
from railwright.prove.proof import WORST_FIRST, Cause, Finding, Proof

# The policy makes a browser refuse whatever a name from a design file might smuggle in.
_PAGE = Template("""\
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>$title: proof</title>
<style>
$style</style>
</head>
<body>
<header>
<p class="over">Proof of a design</p>
<h1>$title</h1>
<p class="result"><span class="stamp $kind">$verdict</span> <span>$counts</span></p>
</header>
<main>
$body
</main>
<footer>
<p>$took</p>
</footer>
</body>
</html>
""")


def write_report(proof: Proof, path: Path) -> None:
    """Write the page, whole or not at all. OSError where it cannot be written."""
    write_whole(path, report(proof))


def report(proof: Proof) -> str:
    """The page as text; the same proof gives the same bytes."""
    findings = proof.ledger
    body = [
        _open_questions(proof),
        _ledger(findings),
        *_range(findings),
        "<h2>Findings</h2>",
        *(_article(finding, number) for number, finding in enumerate(findings, 1)),
        fault_table(proof.faults),
        _assumptions(findings),
        _words(),
    ]
    return _PAGE.substitute(
        title=_text(proof.design),
        style=files("railwright.pages").joinpath("report.css").read_text(encoding="utf-8"),
        kind=_kind(proof.verdict),
        verdict=wording.verdict(proof.verdict),
        counts=_text(wording.counts(findings)),
        body="\n".join(filter(None, body)),
        took=_text(wording.took(proof)),
    )


def _text(text: str) -> str:
    return escape(wording.printable(text))


def _kind(verdict: str) -> str:
    """The class of a verdict in the style."""
    return verdict.replace(" ", "-")


def _list(items: Iterable[str]) -> str:
    return f"<ul>{''.join(f'<li>{item}</li>' for item in items)}</ul>"


def _open_questions(proof: Proof) -> str:
    """What nobody may take for a pass, before anything else, and what can hurt."""
    numbered = list(enumerate(proof.ledger, 1))
    unproven = [
        f"{_link(finding, number)}: {_text(finding.because)}"
        for number, finding in numbered
        if finding.verdict == "not proven"
    ]
    boxes = {
        "Not proven": unproven,
        "Not asked": [_text(each) for each in proof.not_asked],
        "Cautions": [_text(each) for each in proof.cautions],
    }
    sections = [
        f"<section><h3>{heading}</h3>{_list(items) if items else '<p>Nothing.</p>'}</section>"
        for heading, items in boxes.items()
    ]
    return f'<div class="boxes">{"".join(sections)}</div>'


def _link(finding: Finding, number: int) -> str:
    title = f"{finding.subject}: {finding.question}"
    return f'<a href="#finding-{number}">{_text(title)}</a>'


def _ledger(findings: list[Finding]) -> str:
    heads = ("Verdict", "Reserve", "Question", "Value, limit", "Worst at")
    rows = [_row(finding, number) for number, finding in enumerate(findings, 1)]
    return (
        '<h2>Ledger</h2>\n<div class="scroll"><table><thead><tr>'
        + "".join(f'<th scope="col">{head}</th>' for head in heads)
        + f"</tr></thead>\n<tbody>{''.join(rows)}</tbody></table></div>"
    )


def _row(finding: Finding, number: int) -> str:
    judged = " ".join(f"<span>{_text(t)}</span>" for t in wording.value_and_limit(finding) if t)
    kind = _kind(finding.verdict)
    return (
        f'<tr><td class="word {kind}">{wording.verdict(finding.verdict)}</td>'
        f'<td class="number {kind}">{_text(wording.percent(finding.reserve))}{_bar(finding)}</td>'
        f"<td>{_link(finding, number)}</td>"
        f'<td class="number" data-head="Value, limit">{judged}</td>'
        f'<td data-head="Worst at">{_place(finding)}</td></tr>\n'
    )


def _place(finding: Finding) -> str:
    """The worst place, that does not break between a number and its unit."""
    return re.sub(r"(?<=\d) (?=\S)", "&nbsp;", _text(wording.place(finding.where)))


def _bar(finding: Finding) -> str:
    """The reserve to the right of the limit, or to its left; the ends stand for ±100 %."""
    if finding.reserve is None:
        return ""
    half = 50 * min(abs(finding.reserve), 1.0)
    left = 50 - half if finding.reserve < 0 else 50
    place = f"--from: {left:.1f}%; --width: {half:.1f}%"
    return f'<div class="reserve" aria-hidden="true"><i style="{place}"></i><b></b></div>'


def _range(findings: Sequence[Finding]) -> Iterator[str]:
    """Which question binds where, for each rail of which something varies."""
    maps = bindings(findings)
    if not maps:
        return
    yield "<h2>What binds where</h2>"
    for number, (rail, found) in enumerate(maps.items(), 1):
        svg = binding_map(found, f"binding-{number}")
        heading = f"<h3>{_text(rail)}</h3>" if len(maps) > 1 else ""
        named = "".join(
            f"<li>{_link(each, findings.index(each) + 1)}</li>" for each in found.findings
        )
        caption = _text(BINDING_CAPTION.format(count=found.compared))
        yield (
            f'<section class="binding">{heading}<figure class="large">{svg}'
            f"<figcaption>{caption}</figcaption></figure><ol>{named}</ol></section>"
        )


def _article(finding: Finding, number: int) -> str:
    """All that is known about one finding."""
    facts = "".join(
        f"<dt>{label}</dt><dd>{content}</dd>" for label, content in _facts(finding) if content
    )
    return (
        f'<article class="{_kind(finding.verdict)}" id="finding-{number}">\n'
        f'<div class="head"><h3>{_text(f"{finding.subject}: {finding.question}")}</h3>'
        f'<span class="word">{wording.verdict(finding.verdict)}</span></div>\n'
        f"<p>{_text(finding.because)}</p>\n"
        f"<dl>{facts}</dl>\n{_figures(finding, number)}</article>"
    )


def _facts(finding: Finding) -> Iterator[tuple[str, str]]:
    """Label and content in HTML, empty where there is nothing to tell."""
    if finding.value is not None:
        yield "Value", _text(", ".join(filter(None, wording.value_and_limit(finding))))
        reserve = wording.percent(finding.reserve)
        yield "Margin", _text(f"{wording.margin(finding)} (reserve {reserve})")
        yield "Worst at", _place(finding)
    if finding.passing:
        yield "Yield", _text(wording.passing(finding.passing))
    yield "Likely mistake", _text(wording.mistakes(finding))
    yield "Remedy", _text(wording.remedies(finding))
    yield "Causes", _causes(finding)
    yield "Assumed", _text(", ".join(finding.assumed))
    yield "Looked at", _text(wording.looked(finding.looked))
    yield "Source", _text(finding.source)


def _causes(finding: Finding) -> str:
    causes = [cause for cause in finding.causes if not cause.instead]
    if not wording.has_spread(finding):
        return "<br>".join(_text(f"{cause.part} {cause.value}") for cause in causes)
    bars = "".join(map(_cause, causes))
    return f'<div class="causes">{bars}</div>' if bars else ""


def _cause(cause: Cause) -> str:
    share = 100 * cause.share
    return (
        f"<span>{_text(f'{cause.part} {cause.value}')}</span>"
        f'<span class="share"><i style="--width: {min(share, 100.0):.0f}%"></i></span>'
        f"<span>{share:.0f} % of the spread</span>"
    )


def _figures(finding: Finding, number: int) -> str:
    drawn = [(svg, title) for title, svg in curve_figures(finding, f"curves-{number}")]
    if number <= MOST_FIGURES or finding.verdict != "holds":
        drawn += [
            (margin_map(finding, f"map-{number}"), MAP_CAPTION),
            (sample_histogram(finding, f"samples-{number}"), samples_caption(finding)),
        ]
    figures = [
        f"<figure>{svg}<figcaption>{_text(caption)}</figcaption></figure>"
        for svg, caption in drawn
        if svg
    ]
    return f'<div class="figures">{"".join(figures)}</div>\n' if figures else ""


def _assumptions(findings: list[Finding]) -> str:
    """Every assumption once, with the findings that lean on it."""
    leaning = wording.assumptions(findings)
    if not leaning:
        return ""
    rows = [
        f"<dt>{_text(assumed)}</dt><dd>{_list(_link(findings[n - 1], n) for n in numbers)}</dd>"
        for assumed, numbers in leaning.items()
    ]
    return (
        "<h2>Assumptions</h2>\n<p>No guaranteed limit is published for these, or they stand in for "
        "what another finding found wrong. The findings beside them lean on them.</p>\n"
        f'<dl class="wide">{"".join(rows)}</dl>'
    )


def _words() -> str:
    meanings = "".join(
        f"<dt>{wording.verdict(each)}</dt><dd>{wording.MEANINGS[each]}</dd>" for each in WORST_FIRST
    )
    return f"<h2>What the words mean</h2>\n<dl>{meanings}</dl>"
