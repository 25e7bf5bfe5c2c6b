// The desk: one page over the five verbs. It shows what it is told and hands on what is wanted.
import { html, render, useEffect, useMemo, useRef, useState } from "./vendor/htm-preact.js";
import { ask, listen, tell } from "./api.js";
import { Bench } from "./bench.js";
import { Drawing, PartSheet } from "./circuit.js";
import { Field, slopesOf } from "./field.js";
import { Ledger } from "./ledger.js";
import { Make } from "./make.js";
import { RangeMap } from "./map.js";
import { Mend } from "./mend.js";
import { Point } from "./point.js";
import { Propose } from "./propose.js";
import { parsed } from "./values.js";

const LEAVES = [["propose", "Propose"], ["prove", "Prove"], ["make", "Make"], ["measure", "Measure"], ["mend", "Mend"]];
const PAUSE = 250; // ms after the last key until a value is handed on

function useLeaf() {
  const at = () => (LEAVES.some(([name]) => `#${name}` === location.hash) ? location.hash.slice(1) : "prove");
  const [leaf, setLeaf] = useState(at());
  useEffect(() => {
    const changed = () => setLeaf(at());
    addEventListener("hashchange", changed);
    return () => removeEventListener("hashchange", changed);
  }, []);
  return leaf;
}

function Desk() {
  const [whole, setWhole] = useState(null);
  const [field, setField] = useState(null);
  const [tick, setTick] = useState(0);
  const [progress, setProgress] = useState(null);
  const [refused, setRefused] = useState("");
  const [chosen, setChosen] = useState(null);
  const [selected, setSelected] = useState(null);
  const [pinned, setPinned] = useState(null);
  const [seeking, setSeeking] = useState(false);
  const [lost, setLost] = useState(false);
  const [news, setNews] = useState({});
  const [drawing, setDrawing] = useState("");
  const leaf = useLeaf();
  const slopes = useRef(null);
  const focused = useRef(null);
  const waiting = useRef(0);
  const latest = useRef(0);

  async function refresh() {
    const turn = ++latest.current;
    const found = await ask("whole");
    if (turn !== latest.current) return; // a newer one is on its way
    setWhole(found);
    setField((old) => (found.map && found.map.revision === old?.revision && found.map.depth === old.depth ? old : found.map && found.map.checks.length ? new Field(found.map) : null));
    if (found.map && found.map.revision === found.state?.revision && found.proof?.depth !== "map") setProgress(null);
  }
  useEffect(() => {
    refresh();
    return listen((name, data) => {
      if (name === "open") { setLost(false); refresh(); }
      else if (name === "lost") setLost(true);
      else if (name === "progress") setProgress(data);
      else if (name === "ended") setProgress(null);
      else if (name === "failed") { setProgress(null); setSeeking(false); setRefused(data.words); }
      else if (name === "state") refresh();
      else if (name === "proof") { if (data.depth !== "map") setProgress(null); setSeeking(false); refresh(); }
      else setNews({ name, data });
    });
  }, []);
  // Slopes are of one map: of a new map they are asked anew, as long as a value is being typed.
  useEffect(() => { if (field && focused.current) fetchSlopes(focused.current); }, [field]);

  async function fetchSlopes(about) {
    if (slopes.current?.part === about.part && slopes.current.value === about.value && slopes.current.revision === field?.revision) return;
    try {
      const found = await ask("slopes", about);
      slopes.current = { ...about, revision: found.revision, ...slopesOf(found) };
    } catch { slopes.current = null; } // no estimate for this value: it is verified all the same
  }
  async function change(name, sent = {}) {
    try {
      setRefused("");
      const state = await tell(name, sent);
      setWhole((old) => (old && state.revision ? { ...old, state } : old));
      if (field?.estimated && state.revision === field.revision) { // typed back to what is verified
        field.settle();
        setTick((n) => n + 1);
      }
      return true;
    } catch (error) {
      setRefused(error.message);
      return false;
    }
  }
  function typed(value, text) {
    const number = parsed(text, value.unit);
    const known = slopes.current;
    if (field && known && number !== null && known.part === chosen && known.value === value.name && known.revision === field.revision) {
      field.estimate(known, number / known.typical - 1);
      setTick((n) => n + 1);
    }
    clearTimeout(waiting.current);
    if (number !== null) waiting.current = setTimeout(() => change("value", { part: chosen, value: value.name, text, typing: true }), PAUSE);
  }
  function set(value, text) {
    clearTimeout(waiting.current);
    change("value", { part: chosen, value: value.name, text });
  }
  async function save() {
    try { await tell("save"); setRefused(""); refresh(); }
    catch (error) {
      if (whole.state.elsewhere && confirm(`${error.message}\n\nSave over it?`)) change("save", { over: true });
      else { setRefused(error.message); refresh(); }
    }
  }
  useEffect(() => {
    const key = (event) => {
      if (!(event.ctrlKey || event.metaKey) || event.target.matches("textarea")) return;
      const does = { s: save, z: () => change(event.shiftKey ? "redo" : "undo"), y: () => change("redo") }[event.key.toLowerCase()];
      if (does) { event.preventDefault(); does(); }
    };
    addEventListener("keydown", key);
    return () => removeEventListener("keydown", key);
  });

  const state = whole?.state;
  // Drawing takes a while: anew where parts or nets are others, else once the proof is done.
  const wired = state ? JSON.stringify([state.file, state.parts.map((p) => [p.ref, p.kind, p.pins])]) : "";
  const calm = whole?.proof && whole.proof.depth !== "map" ? whole.proof.revision : 0;
  useEffect(() => {
    if (!wired || state.need_only) return undefined;
    let wanted = true;
    ask("drawing").then((found) => wanted && setDrawing(found.svg), () => {});
    return () => { wanted = false; };
  }, [wired, calm]);
  const proof = whole?.proof;
  const only = useMemo(() => {
    const at = field && selected ? field.checks.findIndex((c) => `${c.id} ${c.subject}` === selected) : -1;
    return at < 0 ? null : at;
  }, [field, selected]);
  const estimates = useMemo(() => {
    if (!field?.estimated) return null;
    return new Map(field.checks.map((c, k) => [`${c.id} ${c.subject}`, field.lowest(k)]));
  }, [field, tick]);
  const tints = useMemo(() => {
    if (!proof) return new Map();
    const found = new Map();
    const family = selected?.split(".")[0];
    for (const check of proof.proof.checks) {
      if (check.reserve === null || (family ? !check.id.startsWith(`${family}.`) : !check.id.startsWith("heat."))) continue;
      const ref = check.subject.split(" ")[0];
      found.set(ref, Math.min(check.reserve, found.get(ref) ?? Infinity));
    }
    return found;
  }, [proof, selected]);
  const part = state?.parts.find((p) => p.ref === chosen);
  const stale = proof && state && proof.revision !== state.revision;

  return html`<header><div class="title"><h1>${state ? state.title : "Railwright"}</h1>
      ${state && html`<span class="file">${state.file}${state.saved ? "" : ", not saved"}</span>`}</div>
    <nav aria-label="Leaves">${LEAVES.map(([name, words]) => html`<a href=${`#${name}`} aria-current=${leaf === name ? "page" : null}>${words}</a>`)}</nav>
    <div class="tools">
      <button disabled=${!state?.can_undo} onClick=${() => change("undo")} title="Ctrl+Z">Undo</button>
      <button disabled=${!state?.can_redo} onClick=${() => change("redo")} title="Ctrl+Y">Redo</button>
      <button disabled=${!state || (state.saved && !state.elsewhere)} onClick=${save} title="Ctrl+S">Save</button>
      <label>Open <select value="" onChange=${(e) => e.target.value && change("open", { file: e.target.value }).then(refresh)}>
        <option value="">a file …</option>${whole?.files.map((f) => html`<option value=${f}>${f}</option>`)}</select></label>
    </div></header>
  ${lost && html`<p class="notice" role="alert">The desk does not answer. What you see may be old; it goes on by itself when the desk is back.</p>`}
  ${state?.elsewhere && html`<p class="notice" role="alert">The file was changed elsewhere while this has changes too.
    <button onClick=${() => change("reload").then(refresh)}>Take that</button> <button onClick=${() => change("save", { over: true }).then(refresh)}>Save over it</button></p>`}
  ${state?.broken && html`<pre class="notice" role="alert">The file on disk cannot be used as it is now:\n${state.broken}</pre>`}
  ${refused && leaf !== "prove" && html`<p class="notice refused" role="alert">${refused}</p>`}
  <p class="status" role="status" aria-live="polite">${progress
      ? html`<progress max="1" value=${progress.share} aria-label="Proof"></progress> ${progress.depth === "map" ? "Verifying the map" : "Proving"}: ${progress.stage}
          <button onClick=${() => change("cancel")}>Stop</button>`
      : stale ? "Waiting for the proof." : proof ? `Proved at depth ${proof.depth}.` : ""}</p>
  <main>
    ${!state && leaf !== "propose" && html`<section><h2>Nothing is open</h2><p>Open a design file above, or begin with a need under <a href="#propose">Propose</a>.</p></section>`}
    ${leaf === "prove" && state && (state.need_only
      ? html`<section><h2>A need alone</h2><p>There are no parts yet. <a href="#propose">Propose</a> works out which kinds of supply serve it.</p></section>`
      : html`<div class="prove">
        <${Ledger} proof=${proof?.proof} depth=${proof?.depth} estimates=${estimates} selected=${selected} onSelect=${setSelected} seeking=${seeking}
          onTry=${(changes) => change("changes", { changes: changes.map(({ part: p, value, to }) => ({ part: p, value, to })) })}
          onRemedies=${async () => setSeeking(await change("remedies"))} />
        <section class="range" aria-label="Map of the operating range"><h2>${only === null ? "Operating range" : `${field.checks[only].subject}: ${field.checks[only].question}`}</h2>
          ${only !== null && html`<button onClick=${() => setSelected(null)}>Show all questions</button>`}
          ${field ? html`<${RangeMap} field=${field} tick=${tick} only=${only} pinned=${pinned?.cell}
              onPoint=${(cell, at) => setPinned({ cell, at })} />` : html`<p>The map comes with the first proof.</p>`}
          ${pinned && html`<${Point} at=${pinned.at} revision=${state.revision} onClose=${() => setPinned(null)} />`}</section>
        <${PartSheet} part=${part} refused=${refused} onFocus=${(v) => { focused.current = { part: chosen, value: v.name }; fetchSlopes(focused.current); }}
          onType=${typed} onSet=${set} />
        <${Drawing} text=${drawing} tints=${tints} selected=${chosen} onSelect=${setChosen} />
        <section class="parts"><h2>Parts</h2><p>${state.parts.map((p) => html`<button class=${p.ref === chosen ? "chosen" : ""} onClick=${() => setChosen(p.ref)}>${p.ref}</button>`)}</p></section>
      </div>`)}
    ${leaf === "propose" && html`<${Propose} state=${state} news=${news} onOpened=${() => { refresh(); location.hash = "#prove"; }} />`}
    ${leaf === "make" && state && !state.need_only && html`<${Make} revision=${state.revision} proved=${proof && !stale && proof.depth !== "map"} />`}
    ${leaf === "measure" && state && !state.need_only && html`<${Bench} key=${state.revision} />`}
    ${leaf === "mend" && state && !state.need_only && html`<${Mend} key=${state.revision} drawing=${drawing} />`}
  </main>`;
}

render(html`<${Desk} />`, document.getElementById("desk"));
