// The need as a form, the candidates side by side, one of them taken.
import { html, useEffect, useState } from "./vendor/htm-preact.js";
import { ask, tell } from "./api.js";
import { percent, shown } from "./values.js";

const FIELDS = [
  ["title", "Title", "Hobby bench twelve volts", "What it is for, in a few words."],
  ["input", "Input", "18 V, 19 V, 20 V", "Least, usual and greatest voltage of the source."],
  ["resistance", "Its resistance", "100 mΩ", "Of source and leads together."],
  ["kind", "Source", "dc", "dc, ac (the mains) or battery."],
  ["reference", "Its 0 V", "common with input", "Joined to the input's, floating, or earthed."],
  ["output", "Output", "5 V, 5 V", "Least and greatest voltage; the same twice for a fixed rail."],
  ["current", "Load", "0 A, 1 A", "Least and greatest current."],
  ["accuracy", "Accuracy", "3 %", "How far a fixed output may be off."],
  ["ripple", "Ripple", "20 mV", "Peak to peak, up to 2 MHz."],
  ["ambient", "Ambient", "10 °C, 40 °C", "Least and greatest temperature of the air."],
];

const CHOICES = { kind: ["dc", "ac", "battery"], reference: ["common with input", "floating", "earthed"] };

// A need as a design file has it; what is left out keeps its default.
function written(form) {
  const parts = (name) => form[name].split(",").map((t) => t.trim()).filter(Boolean);
  const q = JSON.stringify;
  const [low, usual, high] = parts("input").length === 3 ? parts("input") : [parts("input")[0], parts("input")[0], parts("input")[1] ?? parts("input")[0]];
  const span = (name) => `{ min = ${q(parts(name)[0] ?? "")}, max = ${q(parts(name)[1] ?? parts(name)[0] ?? "")} }`;
  return [
    `title = ${q(form.title)}`, "", "[need.input]", `kind = ${q(form.kind)}`,
    `voltage = { min = ${q(low ?? "")}, nominal = ${q(usual ?? "")}, max = ${q(high ?? "")} }`,
    `resistance = ${q(form.resistance)}`, "",
    "[[need.output]]", 'name = "main"', `reference = ${q(form.reference)}`, `voltage = ${span("output")}`, `current = ${span("current")}`,
    ...(form.accuracy ? [`accuracy = ${q(form.accuracy)}`] : []), ...(form.ripple ? [`ripple = ${q(form.ripple)}`] : []), "",
    "[need.surroundings]", `ambient = ${span("ambient")}`, "",
  ].join("\n");
}

export function Propose({ state, news, onOpened }) {
  const [form, setForm] = useState(Object.fromEntries(FIELDS.map(([name, , value]) => [name, value])));
  const [text, setText] = useState(state?.need_only ? state.text : null);
  const [quick, setQuick] = useState(true);
  const [told, setTold] = useState(null);
  const [progress, setProgress] = useState("");
  const [refused, setRefused] = useState("");
  useEffect(() => { ask("proposal").then(setTold); }, []);
  useEffect(() => {
    if (news.name === "proposing") setProgress(`${news.data.stage}: ${Math.round(100 * news.data.share)} %`);
    if (news.name === "proposed") {
      setProgress("");
      if (news.data.failed) setRefused(news.data.failed);
      ask("proposal").then(setTold);
    }
  }, [news]);
  const need = text ?? written(form);
  async function submit(event) {
    event.preventDefault();
    try { setRefused(""); setTold(await tell("propose", { need, quick })); }
    catch (error) { setRefused(error.message); }
  }
  return html`<div class="propose"><section><h2>Need</h2><form onSubmit=${submit}>
    ${text === null ? FIELDS.map(([name, words, , help]) => html`<label>${words} <small id=${`help-${name}`}>${help}</small>
        ${CHOICES[name] ? html`<select value=${form[name]} onChange=${(e) => setForm({ ...form, [name]: e.target.value })}>${CHOICES[name].map((k) => html`<option value=${k} selected=${k === form[name]}>${k}</option>`)}</select>`
          : html`<input value=${form[name]} aria-describedby=${`help-${name}`} onInput=${(e) => setForm({ ...form, [name]: e.target.value })} />`}</label>`)
      : html`<label>The need as its file has it <textarea rows="24" value=${text} spellcheck="false" onInput=${(e) => setText(e.target.value)}></textarea></label>`}
    <p><button type="button" onClick=${() => setText(text === null ? written(form) : null)}>${text === null ? "Write it as a file, for all that may be asked" : "Back to the form"}</button></p>
    <label class="check"><input type="checkbox" checked=${quick} onChange=${(e) => setQuick(e.target.checked)} /> Quick: static questions alone</label>
    <button disabled=${told?.running}>Work it out</button></form>
    ${told?.running && html`<p role="status">Working: ${progress || "sizing"}</p>`}
    ${refused && html`<pre class="refused" role="alert">${refused}</pre>`}</section>
  ${told?.proposal && html`<${Candidates} proposal=${told.proposal} onOpened=${onOpened} />`}</div>`;
}

function Candidates({ proposal, onOpened }) {
  const [refused, setRefused] = useState("");
  const [file, setFile] = useState("supply.toml");
  async function choose(number) {
    try { await tell("choose", { number, file }); onOpened(); }
    catch (error) { setRefused(error.message); }
  }
  const rows = [
    ["verdict", (c) => `${c.verdict} at depth ${c.depth}`],
    ["least reserve", (c) => (c.least_reserve ? percent(c.least_reserve.reserve ?? null) : "—")],
    ["hottest", (c) => (c.hottest ? `${c.hottest.subject} ${shown(c.hottest.temperature ?? NaN, "°C")}` : "—")],
    ["loss at full load", (c) => (c.full_load ? shown(c.full_load.loss ?? NaN, "W") : "—")],
    ["efficiency", (c) => (c.full_load?.efficiency ? `${Math.round(100 * c.full_load.efficiency)} %` : "—")],
    ["ripple", (c) => (c.ripple ? shown(c.ripple, "V") : "—")],
    ["parts", (c) => String(c.parts)],
    ["price class", (c) => String(c.price)],
    ["gives up", (c) => c.gives_up],
  ];
  return html`<section class="candidates"><h2>Candidates</h2><p>${proposal.reason}</p>
    ${proposal.candidates.length > 0 && html`<label>Write the chosen one as <input value=${file} onInput=${(e) => setFile(e.target.value)} /></label>
    <div class="wide" tabindex="0" role="group" aria-label="Candidates, scrolls"><table><thead><tr><th></th>${proposal.candidates.map((c) => html`<th scope="col">${c.architecture}</th>`)}</tr></thead><tbody>
      ${rows.map(([name, told]) => html`<tr><th scope="row">${name}</th>${proposal.candidates.map((c) => html`<td>${told(c)}</td>`)}</tr>`)}
      <tr><th></th>${proposal.candidates.map((c, k) => html`<td><button onClick=${() => choose(k)} aria-label=${`Take ${c.architecture}`}>Take it</button></td>`)}</tr></tbody></table></div>`}
    ${refused && html`<p class="refused" role="alert">${refused}</p>`}
    <details><summary>Not served: ${proposal.refused.length}</summary><dl>${proposal.refused.map((r) => html`<dt>${r.architecture}</dt><dd>${r.reason}</dd>`)}</dl></details></section>`;
}
