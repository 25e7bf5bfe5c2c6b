// The drawing with parts tinted and hatched, and the sheet of the part that is chosen.
import { html, useEffect, useRef, useState } from "./vendor/htm-preact.js";

const SVG = "http://www.w3.org/2000/svg";

// The hatches that tints refer to: hatch before colour.
function hatches(drawing) {
  const defs = document.createElementNS(SVG, "defs");
  for (const [name, colour, path] of [
    ["short", "#96230f", "M-1 9L9 -1M-1 1L1 -1M7 9L9 7"],
    ["near", "#8a6a00", "M4 0V8"],
    ["good", "#1c5a41", "M4 4h.01"],
  ]) {
    const pattern = document.createElementNS(SVG, "pattern");
    pattern.setAttribute("id", `tint-${name}`);
    pattern.setAttribute("width", "8");
    pattern.setAttribute("height", "8");
    pattern.setAttribute("patternUnits", "userSpaceOnUse");
    const stroke = document.createElementNS(SVG, "path");
    stroke.setAttribute("d", path);
    stroke.setAttribute("stroke", colour);
    stroke.setAttribute("stroke-width", name === "good" ? "2" : "1.2");
    stroke.setAttribute("stroke-linecap", "round");
    pattern.append(stroke);
    defs.append(pattern);
  }
  drawing.prepend(defs);
}

export function Drawing({ text, tints, selected, onSelect, mark }) {
  const frame = useRef(null);
  const [large, setLarge] = useState(false);
  useEffect(() => {
    frame.current.replaceChildren();
    if (!text) return;
    const found = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
    const drawing = document.importNode(found, true);
    drawing.setAttribute("role", "group"); // of parts that can be chosen
    hatches(drawing);
    drawing.querySelectorAll(".part").forEach((part) => {
      part.setAttribute("tabindex", "0");
      part.setAttribute("role", "button");
      part.setAttribute("aria-label", `Part ${part.dataset.part}`);
    });
    frame.current.append(drawing);
  }, [text]);
  useEffect(() => {
    frame.current.querySelectorAll(".part").forEach((part) => {
      const reserve = tints?.get(part.dataset.part);
      const body = part.querySelector(".body");
      const name = reserve === undefined || !Number.isFinite(reserve) ? "" : reserve < 0 ? "short" : reserve < 0.1 ? "near" : "good";
      if (body) body.style.cssText = name ? `fill:url(#tint-${name});fill-opacity:1` : "";
      part.classList.toggle("chosen", part.dataset.part === selected);
    });
    frame.current.querySelectorAll(".net-group").forEach((net) => net.classList.toggle("marked", net.dataset.net === mark));
  }, [text, tints, selected, mark]);
  const pick = (event) => {
    const part = event.target.closest?.(".part");
    if (part) onSelect(part.dataset.part);
  };
  return html`<section class=${`drawing${large ? " large" : ""}`} aria-label="Drawing of the circuit">
    <div class="drawing-head"><button aria-pressed=${large} onClick=${() => setLarge(!large)}>${large ? "Fit" : "True size"}</button></div>
    <div class="frame" tabindex="0" aria-label="Drawing, scrolls" role="group" ref=${frame} onClick=${pick}
      onKeyDown=${(e) => (e.key === "Enter" || e.key === " ") && (e.preventDefault(), pick(e))}></div></section>`;
}

export function PartSheet({ part, busy, onFocus, onType, onSet, refused }) {
  if (!part) return html`<section class="part-sheet"><h2>Part</h2><p>Choose a part on the drawing or in the list.</p></section>`;
  return html`<section class="part-sheet" aria-label=${`Part ${part.ref}`}><h2>${part.ref} <small>${part.kind}${part.use ? `, ${part.use}` : ""}</small></h2>
    ${part.why && html`<p class="why">${part.why}</p>`}
    ${part.warning && html`<p class="warning">${part.warning}</p>`}
    <table><thead><tr><th scope="col">value</th><th scope="col">typical</th><th scope="col">limits</th></tr></thead><tbody>
      ${part.values.map((value) => html`<${Value} key=${`${part.ref} ${value.name}`} part=${part.ref} value=${value}
        onFocus=${onFocus} onType=${onType} onSet=${onSet} />`)}
    </tbody></table>
    ${refused && html`<p class="refused" role="alert">${refused}</p>`}
    ${busy && html`<p class="busy" role="status">${busy}</p>`}
    <h3>Pins</h3><p class="pins">${Object.entries(part.pins).map(([pin, net]) => html`<span>${pin} → ${net}</span>`)}</p>
    ${Object.keys(part.ratings).length > 0 && html`<h3>Ratings</h3><p class="pins">${Object.entries(part.ratings).map(([n, v]) => html`<span>${n.replaceAll("_", " ")} ${v.toPrecision(3)}</span>`)}</p>`}
  </section>`;
}

function Value({ part, value, onFocus, onType, onSet }) {
  const [text, setText] = useState(value.text);
  const [editing, setEditing] = useState(false);
  useEffect(() => { if (!editing) setText(value.text); }, [value.text, editing]);
  const name = value.name.replaceAll("_", " ");
  return html`<tr><th scope="row">${name}</th><td><input aria-label=${`${name} of ${part}`} value=${text} spellcheck="false"
      onFocus=${() => { setEditing(true); onFocus(value); }}
      onBlur=${() => setEditing(false)}
      onInput=${(e) => { setText(e.target.value); onType(value, e.target.value); }}
      onKeyDown=${(e) => { if (e.key === "Enter") onSet(value, text); if (e.key === "Escape") { setText(value.text); e.target.blur(); } }} /></td>
    <td class="limits" title=${value.source}>${value.low} to ${value.high}${value.assumed ? " (assumed)" : ""}<small>${value.source}</small></td></tr>`;
}
