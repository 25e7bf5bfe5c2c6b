// Suspects with their probabilities, and the reading that would tell most, marked on the drawing.
import { html, useEffect, useState } from "./vendor/htm-preact.js";
import { ask, tell } from "./api.js";
import { Drawing } from "./circuit.js";

const ALIKE = 6; // suspects that are named

export function Mend({ drawing }) {
  const [found, setFound] = useState(null);
  const [refused, setRefused] = useState("");
  const [said, setSaid] = useState("");
  useEffect(() => { ask("mend").then(setFound, (error) => setRefused(error.message)); }, []);
  if (!found) return html`<section><h2>Mend</h2>${refused ? html`<p class="refused" role="alert">${refused}</p>` : html`<p role="status">Working out what every suspect would do …</p>`}</section>`;
  const next = found.next;
  async function take(event) {
    event.preventDefault();
    try {
      setFound(await tell("mend/reading", { quantity: next.quantity, red: next.red, black: next.black, said }));
      setRefused("");
      setSaid("");
    } catch (error) { setRefused(error.message); }
  }
  return html`<div class="mend"><section><h2>Suspects</h2>
    <p>${found.readings.length ? `After ${found.readings.length} ${found.readings.length === 1 ? "reading" : "readings"}${found.stage ? ` at "${found.stage}"` : ""}: ${found.readings.map((r) => `${r.place} ${r.value}`).join("; ")}.` : "Nothing was read yet."}</p>
    <ol class="suspects">${found.suspects.filter((s) => s.probability >= 0.001).map((s) => html`<li>
      <meter min="0" max="1" value=${s.probability} aria-label=${`Probability of ${s.words}`}></meter>
      <span class="number">${(100 * s.probability).toFixed(s.probability < 0.1 ? 1 : 0)} %</span> <span>${s.words}${s.because && html`<small>${s.because}</small>`}</span></li>`)}</ol>
    ${found.alike.length > 0 && html`<p>No reading here tells the first from: ${found.alike.slice(0, ALIKE).join(", ")}${found.alike.length > ALIKE ? ` and ${found.alike.length - ALIKE} more` : ""}.</p>`}
    ${found.unjudged > 0 && html`<p>${found.unjudged} suspects could not be solved; they stay possible.</p>`}
    ${next?.before.map((told) => html`<p class="before">${told}</p>`)}
    ${next ? html`<form onSubmit=${take} class="next"><label>Read next: ${next.place} <small>${next.information.toFixed(1)} bit expected</small>
        <input value=${said} onInput=${(e) => setSaid(e.target.value)} /></label><button disabled=${!said.trim()}>Keep</button></form>`
      : html`<p>No further reading here would tell more.</p>`}
    ${refused && html`<p class="refused" role="alert">${refused}</p>`}</section>
  <${Drawing} text=${drawing} onSelect=${() => {}} mark=${next?.red} /></div>`;
}
