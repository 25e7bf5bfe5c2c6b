// Bringing up step by step: cautions, what to do, what to read, and at once whether it is right.
import { html, useEffect, useRef, useState } from "./vendor/htm-preact.js";
import { ask, tell } from "./api.js";

export function Bench() {
  const [bench, setBench] = useState(null);
  const [refused, setRefused] = useState("");
  const [danger, setDanger] = useState("");
  const [meter, setMeter] = useState("");
  useEffect(() => { ask("bench").then(setBench, (error) => setRefused(error.message)); }, []);
  if (refused && !bench) return html`<section><h2>Bench</h2><p class="refused" role="alert">${refused}</p></section>`;
  if (!bench) return html`<section><h2>Bench</h2><p role="status">Working out what has to be read …</p></section>`;
  const next = bench.steps.findIndex((s) => !s.read);
  async function take(number, said) {
    try {
      const told = await tell("reading", { step: number, said, meter });
      setRefused("");
      setDanger(told.danger);
      setBench({ ...bench, steps: bench.steps.map((s, k) => (k === number ? told : s)) });
    } catch (error) { setRefused(error.message); }
  }
  const stages = [...new Set(bench.steps.map((s) => s.stage))];
  return html`<section class="bench"><h2>Bench</h2>
    ${bench.cautions.length > 0 && html`<ul class="cautions">${bench.cautions.map((t) => html`<li>${t}</li>`)}</ul>`}
    <label>Meter <input value=${meter || bench.meter} onInput=${(e) => setMeter(e.target.value)} /></label>
    ${danger && html`<p class="danger" role="alert">${danger}</p>`}
    ${refused && html`<p class="refused" role="alert">${refused}</p>`}
    ${stages.map((stage) => html`<h3>${stage}</h3>
      ${bench.steps.map((step, k) => step.stage === stage && html`<${Step} key=${k} step=${step} number=${k} next=${k === next} onTake=${take} />`)}`)}
    ${bench.refused && html`<p>${bench.refused}</p>`}</section>`;
}

function Step({ step, number, next, onTake }) {
  const [said, setSaid] = useState("");
  const box = useRef(null);
  useEffect(() => { if (next) box.current?.focus({ preventScroll: true }); }, [next]);
  const submit = (event) => { event.preventDefault(); onTake(number, said); setSaid(""); };
  return html`<div class=${`step ${step.verdict ?? ""}`}>
    ${step.todo.length > 0 && html`<ul class="todo">${step.todo.map((t) => html`<li>${t}</li>`)}</ul>`}
    <form onSubmit=${submit}><label>${step.place} <small>${step.window}</small>
      <input ref=${box} value=${said} inputmode="text" placeholder=${step.read ?? `in ${step.unit}`} onInput=${(e) => setSaid(e.target.value)} /></label>
      <button disabled=${!said.trim()}>Keep</button>
      ${step.read && html`<output>${step.read}: ${step.verdict}</output>`}</form></div>`;
}
