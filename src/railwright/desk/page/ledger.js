// The ledger: what was left open first, then one line per question, worst first.
import { html, useState } from "./vendor/htm-preact.js";
import { percent } from "./values.js";

const GLYPH = { "falls short": "✗", "not proven": "?", marginal: "~", holds: "✓" };
const CLASS = { "falls short": "short", "not proven": "open", marginal: "near", holds: "good" };

function Bar({ reserve }) {
  if (reserve === null || reserve === undefined || !Number.isFinite(reserve)) return null;
  const wide = Math.min(1, Math.abs(reserve)) * 30;
  return html`<svg class="bar" viewBox="-32 0 64 10" aria-hidden="true">
    <rect class=${reserve < 0 ? "minus" : "plus"} x=${reserve < 0 ? -wide : 0} y="1.5" width=${wide} height="7" />
    <path d="M0 0V10" /></svg>`;
}

function Histogram({ told, unit }) {
  if (!told) return null;
  const most = Math.max(...told.counts);
  const span = told.high - told.low;
  const zero = told.low < 0 && told.high > 0 ? (-told.low / span) * 240 : null;
  return html`<figure class="histogram"><svg viewBox="0 0 240 46" role="img" aria-label="How the margins of the samples lie">
    ${told.counts.map((n, k) => html`<rect x=${k * 10 + 1} y=${40 - (38 * n) / most} width="8" height=${(38 * n) / most} />`)}
    <path d="M0 40H240" />${zero !== null && html`<path class="zero" d=${`M${zero} 0V46`} />`}</svg>
    <figcaption>margins of the samples, ${told.low.toPrecision(3)} to ${told.high.toPrecision(3)} ${unit}</figcaption></figure>`;
}

function Check({ check, estimate, selected, onSelect, onTry }) {
  const { words } = check;
  const reserve = estimate ?? check.reserve;
  return html`<details class=${`check ${CLASS[check.verdict]}`} open=${selected}
      onToggle=${(e) => e.target.open !== selected && onSelect(e.target.open)}>
    <summary><span class="verdict">${GLYPH[check.verdict]} ${check.verdict}</span>
      <${Bar} reserve=${reserve} /><span class="number">${estimate !== undefined ? "≈ " : ""}${percent(reserve)}</span>
      <span class="asked"><b>${check.subject}</b> ${check.question}</span></summary>
    <div class="told">
      <p>${check.because}</p>
      <dl>
        ${[["value", words.judged], ["limit", words.limit], ["worst at", words.place], ["causes", words.causes],
           ["likely mistake", words.mistakes], ["assumed", check.assumed.join(", ")], ["source", check.source]]
          .filter(([, text]) => text).map(([name, text]) => html`<dt>${name}</dt><dd>${text}</dd>`)}
      </dl>
      <${Histogram} told=${check.histogram} unit=${words.unit} />
      ${check.remedies.map((remedy) => html`<p class="remedy">${remedy.changes.map((c) => `${c.part}: ${c.from} → ${c.to}`).join(", ")}
        gives ${percent(remedy.reserve)} <button onClick=${() => onTry(remedy.changes)}>Try it</button></p>`)}
    </div></details>`;
}

export function Ledger({ proof, depth, estimates, selected, onSelect, onTry, onRemedies, seeking }) {
  const [all, setAll] = useState(false);
  if (!proof) return html`<section class="ledger"><h2>Ledger</h2><p>Not proved yet.</p></section>`;
  const { checks } = proof;
  const shown = all ? checks : checks.filter((c, k) => c.verdict !== "holds" || k < 14);
  const open = checks.filter((c) => c.verdict === "not proven");
  const short = checks.some((c) => c.verdict === "falls short");
  const key = (c) => `${c.id} ${c.subject}`;
  return html`<section class="ledger" aria-label="Ledger"><h2>Ledger</h2>
    <p class=${`headline ${CLASS[proof.verdict]}`} data-verdict=${proof.verdict}>${GLYPH[proof.verdict]} ${proof.verdict}
      <span class="depth">at depth ${depth}: ${Object.keys(GLYPH).map((v) => [v, checks.filter((c) => c.verdict === v).length]).filter(([, n]) => n).map(([v, n]) => `${n} ${v}`).join(", ")}</span></p>
    ${open.length > 0 && html`<details class="left"><summary>Not proven: ${open.length}</summary><ul>${open.map((c) => html`<li>${c.subject}: ${c.question}</li>`)}</ul></details>`}
    ${proof.not_asked.length > 0 && html`<details class="left"><summary>Not asked: ${proof.not_asked.length}</summary><ul>${proof.not_asked.map((t) => html`<li>${t}</li>`)}</ul></details>`}
    ${proof.cautions.length > 0 && html`<details class="left"><summary>Cautions: ${proof.cautions.length}</summary><ul>${proof.cautions.map((t) => html`<li>${t}</li>`)}</ul></details>`}
    ${short && html`<p><button disabled=${seeking} onClick=${onRemedies}>${seeking ? "Seeking remedies …" : "Seek remedies"}</button></p>`}
    <div class="lines">${shown.map((c) => html`<${Check} key=${key(c)} check=${c} estimate=${estimates?.get(key(c))}
      selected=${selected === key(c)} onSelect=${(on) => onSelect(on ? key(c) : null)} onTry=${onTry} />`)}</div>
    ${checks.length > shown.length && html`<button onClick=${() => setAll(true)}>Show the other ${checks.length - shown.length}</button>`}
  </section>`;
}
