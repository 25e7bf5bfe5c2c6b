// The map of the operating range, inked on squared paper: tone and hatch by reserve, a line round
// each region with the number of the question that binds there, contours, a cross at the worst.
import { html, useEffect, useRef, useState, useMemo } from "./vendor/htm-preact.js";
import { percent, shown } from "./values.js";

const INK = "#1d2733";
const FADED = "#4d5a66";
const PAPER = "#fcfbf7";
const EDGE = { left: 58, right: 14, top: 14, bottom: 44 };
const SHORT = "#f3d3c8", NEAR = "#f3e6c4";
const TONES = [[0.05, "#e9eee2"], [0.1, "#e1ebe1"], [0.2, "#d9e7e2"], [0.4, "#d3e3e5"], [0.8, "#d4dfeb"], [Infinity, "#dcdff0"]];
const FINE = 4; // pixels of a patch of tone
const unitOf = (name) => (name.startsWith("load") ? "A" : name === "ambient" ? "°C" : "V");
const wordsOf = (name) =>
  name.startsWith("load") ? `load of ${name.slice(5)}`
  : name.startsWith("output") ? `output setting of ${name.slice(7)}`
  : name === "input" ? "input voltage" : "ambient";

function pattern(context, draw, size = 8) {
  const tile = document.createElement("canvas");
  tile.width = tile.height = size;
  const ink = tile.getContext("2d");
  ink.strokeStyle = ink.fillStyle = INK;
  ink.lineWidth = 1;
  draw(ink, size);
  return context.createPattern(tile, "repeat");
}
const hatched = (context) =>
  pattern(context, (ink, n) => {
    ink.beginPath();
    for (const o of [-n, 0, n]) { ink.moveTo(o, n); ink.lineTo(o + n, 0); }
    ink.stroke();
  });
const dotted = (context) => pattern(context, (ink, n) => ink.fillRect(n / 2, n / 2, 1.2, 1.2), 10);
const crossed = (context) =>
  pattern(context, (ink, n) => {
    ink.beginPath();
    ink.moveTo(n / 2 - 2, n / 2); ink.lineTo(n / 2 + 2, n / 2);
    ink.moveTo(n / 2, n / 2 - 2); ink.lineTo(n / 2, n / 2 + 2);
    ink.stroke();
  }, 12);

// A place between cells: which two, and how far.
function between(places, value) {
  if (places.length === 1) return [0, 0, 0];
  let k = 0;
  while (k < places.length - 2 && places[k + 1] < value) k++;
  const share = (value - places[k]) / (places[k + 1] - places[k]);
  return [k, k + 1, Math.min(1, Math.max(0, share))];
}

class Paper {
  constructor(canvas, field, plan, plane) {
    const box = canvas.getBoundingClientRect();
    const ratio = window.devicePixelRatio || 1;
    canvas.width = box.width * ratio;
    canvas.height = box.height * ratio;
    this.ink = canvas.getContext("2d");
    this.ink.scale(ratio, ratio);
    Object.assign(this, { field, plane, plan });
    this.xs = plan.across ? field.axes[plan.across] : [0];
    this.ys = plan.up ? field.axes[plan.up] : [0];
    this.width = box.width - EDGE.left - EDGE.right;
    this.height = box.height - EDGE.top - EDGE.bottom;
  }
  x(value) {
    const [a, b] = [this.xs[0], this.xs.at(-1)];
    return EDGE.left + (a === b ? 0.5 : (value - a) / (b - a)) * this.width;
  }
  y(value) {
    const [a, b] = [this.ys[0], this.ys.at(-1)];
    return EDGE.top + this.height - (a === b ? 0.5 : (value - a) / (b - a)) * this.height;
  }
  // Reserve between the cells, straight lines; not a number where a neighbour has none.
  reserve(px, py, low = this.plane.low) {
    const { wide } = this.plane;
    const vx = this.xs[0] + ((px - EDGE.left) / this.width) * (this.xs.at(-1) - this.xs[0]);
    const vy = this.ys[0] + ((EDGE.top + this.height - py) / this.height) * (this.ys.at(-1) - this.ys[0]);
    const [i, i2, s] = between(this.xs, vx);
    const [j, j2, t] = between(this.ys, vy);
    const of = (a, b) => low[b * wide + a];
    return of(i, j) * (1 - s) * (1 - t) + of(i2, j) * s * (1 - t) + of(i, j2) * (1 - s) * t + of(i2, j2) * s * t;
  }
  draw(numbers, mark) {
    const ink = this.ink;
    ink.lineWidth = 1;
    this.tones();
    this.unknown();
    this.contours();
    this.borders();
    this.frame();
    this.numbers(numbers);
    if (mark) this.cross(mark);
  }
  tones() {
    const ink = this.ink;
    const hatch = hatched(ink), dots = dotted(ink);
    for (let py = EDGE.top; py < EDGE.top + this.height; py += FINE)
      for (let px = EDGE.left; px < EDGE.left + this.width; px += FINE) {
        const found = this.reserve(px + FINE / 2, py + FINE / 2);
        if (Number.isNaN(found)) continue;
        const near = this.reserve(px + FINE / 2, py + FINE / 2, this.plane.spare) < 0;
        ink.fillStyle = found < 0 ? SHORT : near ? NEAR : TONES.find(([top]) => found < top)[1];
        ink.fillRect(px, py, FINE, FINE);
        if (found < 0 || near) {
          ink.fillStyle = found < 0 ? hatch : dots;
          ink.fillRect(px, py, FINE, FINE);
        }
      }
  }
  unknown() {
    const { wide, high, unknown } = this.plane;
    this.ink.fillStyle = crossed(this.ink);
    for (let j = 0; j < high; j++)
      for (let i = 0; i < wide; i++)
        if (unknown[j * wide + i]) {
          const [x0, x1, y0, y1] = this.cellBox(i, j);
          this.ink.fillRect(x0, y0, x1 - x0, y1 - y0);
        }
  }
  cellBox(i, j) {
    const mid = (places, k, l) => (places[k] + places[Math.max(0, Math.min(places.length - 1, l))]) / 2;
    const one = (places, size) => places.length === 1;
    const x0 = one(this.xs) ? EDGE.left : this.x(mid(this.xs, i, i - 1));
    const x1 = one(this.xs) ? EDGE.left + this.width : this.x(mid(this.xs, i, i + 1));
    const y1 = one(this.ys) ? EDGE.top + this.height : this.y(mid(this.ys, j, j - 1));
    const y0 = one(this.ys) ? EDGE.top : this.y(mid(this.ys, j, j + 1));
    return [x0, x1, y0, y1];
  }
  borders() {
    const { wide, high, who } = this.plane;
    this.ink.strokeStyle = INK;
    this.ink.lineWidth = 1.6;
    this.ink.beginPath();
    for (let j = 0; j < high; j++)
      for (let i = 0; i < wide; i++) {
        const [x0, x1, y0] = this.cellBox(i, j);
        const [, , , y1] = this.cellBox(i, j);
        if (i + 1 < wide && who[j * wide + i] !== who[j * wide + i + 1]) { this.ink.moveTo(x1, y0); this.ink.lineTo(x1, y1); }
        if (j + 1 < high && who[j * wide + i] !== who[(j + 1) * wide + i]) { this.ink.moveTo(x0, y0); this.ink.lineTo(x1, y0); }
      }
    this.ink.stroke();
  }
  // Marching squares (Lorensen and Cline, 1987, in the plane) on a lattice of pixels.
  contours() {
    const known = [...this.plane.low].filter(Number.isFinite);
    if (known.length < 4) return;
    const [low, high] = [Math.min(...known), Math.max(...known)];
    const step = [0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10].find((s) => (high - low) / s <= 7) ?? 20;
    const pitch = 8;
    for (let level = Math.ceil(low / step) * step; level < high; level += step) {
      this.ink.strokeStyle = FADED;
      this.ink.lineWidth = Math.abs(level) < step / 2 ? 2 : 0.7;
      let label = null;
      this.ink.beginPath();
      for (let py = EDGE.top; py + pitch <= EDGE.top + this.height; py += pitch)
        for (let px = EDGE.left; px + pitch <= EDGE.left + this.width; px += pitch) {
          const corners = [[px, py], [px + pitch, py], [px + pitch, py + pitch], [px, py + pitch]];
          const over = corners.map(([x, y]) => this.reserve(x, y) - level);
          const cuts = [];
          for (let k = 0; k < 4; k++) {
            const [a, b] = [over[k], over[(k + 1) % 4]];
            if (a < 0 !== b < 0 && Number.isFinite(a) && Number.isFinite(b)) {
              const s = a / (a - b), [p, q] = [corners[k], corners[(k + 1) % 4]];
              cuts.push([p[0] + (q[0] - p[0]) * s, p[1] + (q[1] - p[1]) * s]);
            }
          }
          for (let k = 0; k + 1 < cuts.length; k += 2) {
            this.ink.moveTo(...cuts[k]);
            this.ink.lineTo(...cuts[k + 1]);
            if (!label || Math.hypot(cuts[k][0] - this.middle[0], cuts[k][1] - this.middle[1]) < label.far)
              label = { at: cuts[k], far: Math.hypot(cuts[k][0] - this.middle[0], cuts[k][1] - this.middle[1]) };
          }
        }
      this.ink.stroke();
      if (label) this.words(percent(Math.round(level * 1e6) / 1e6), ...label.at);
    }
  }
  get middle() {
    return [EDGE.left + this.width * 0.62, EDGE.top + this.height * 0.38];
  }
  words(text, x, y) {
    const ink = this.ink;
    ink.font = "11px Georgia, serif";
    ink.textAlign = "center";
    ink.textBaseline = "middle";
    const wide = ink.measureText(text).width + 6;
    ink.fillStyle = PAPER;
    ink.fillRect(x - wide / 2, y - 7, wide, 14);
    ink.fillStyle = INK;
    ink.fillText(text, x, y);
  }
  frame() {
    const ink = this.ink;
    ink.strokeStyle = ink.fillStyle = INK;
    ink.lineWidth = 1;
    ink.strokeRect(EDGE.left, EDGE.top, this.width, this.height);
    ink.font = "12px Georgia, serif";
    const ticks = (places) => places.filter((_, k) => places.length < 8 || k % Math.ceil((places.length - 1) / 6) === 0 || k === places.length - 1);
    ink.textAlign = "center";
    ink.textBaseline = "top";
    if (this.plan.across)
      for (const value of ticks(this.xs)) {
        ink.fillRect(this.x(value) - 0.5, EDGE.top + this.height, 1, 5);
        ink.fillText(shown(value, unitOf(this.plan.across)), this.x(value), EDGE.top + this.height + 7);
      }
    ink.textAlign = "right";
    ink.textBaseline = "middle";
    if (this.plan.up)
      for (const value of ticks(this.ys)) {
        ink.fillRect(EDGE.left - 5, this.y(value) - 0.5, 5, 1);
        ink.fillText(shown(value, unitOf(this.plan.up)), EDGE.left - 8, this.y(value));
      }
    ink.textAlign = "center";
    ink.textBaseline = "bottom";
    ink.font = "italic 12px Georgia, serif";
    if (this.plan.across) ink.fillText(wordsOf(this.plan.across), EDGE.left + this.width / 2, EDGE.top + this.height + EDGE.bottom - 2);
    if (this.plan.up) {
      ink.save();
      ink.translate(11, EDGE.top + this.height / 2);
      ink.rotate(-Math.PI / 2);
      ink.fillText(wordsOf(this.plan.up), 0, 0);
      ink.restore();
    }
  }
  numbers(numbers) {
    const { wide, high, who } = this.plane;
    const ink = this.ink;
    for (const [check, number] of numbers) {
      let best = null;
      for (let j = 0; j < high; j++)
        for (let i = 0; i < wide; i++) {
          if (who[j * wide + i] !== check) continue;
          // The cell farthest from the border of its region carries the number.
          let far = Infinity;
          for (let b = 0; b < high; b++)
            for (let a = 0; a < wide; a++)
              if (who[b * wide + a] !== check) far = Math.min(far, Math.hypot((a - i) / wide, (b - j) / high));
          far = Math.min(far, (i + 1) / wide, (wide - i) / wide, (j + 1) / high, (high - j) / high);
          if (!best || far > best.far) best = { i, j, far };
        }
      if (!best) continue;
      const [x0, x1, y0, y1] = this.cellBox(best.i, best.j);
      const [x, y] = [(x0 + x1) / 2, (y0 + y1) / 2];
      ink.beginPath();
      ink.arc(x, y, 10, 0, 2 * Math.PI);
      ink.fillStyle = PAPER;
      ink.fill();
      ink.strokeStyle = INK;
      ink.stroke();
      ink.fillStyle = INK;
      ink.font = "bold 12px Georgia, serif";
      ink.textAlign = "center";
      ink.textBaseline = "middle";
      ink.fillText(String(number), x, y + 0.5);
    }
  }
  cross({ i, j }) {
    const ink = this.ink;
    const [x, y] = [this.x(this.xs[i]), this.y(this.ys[j])];
    ink.strokeStyle = INK;
    ink.lineWidth = 2.4;
    ink.beginPath();
    ink.moveTo(x - 7, y - 7); ink.lineTo(x + 7, y + 7);
    ink.moveTo(x - 7, y + 7); ink.lineTo(x + 7, y - 7);
    ink.stroke();
  }
  ring({ i, j }) {
    const ink = this.ink;
    ink.strokeStyle = INK;
    ink.lineWidth = 1.5;
    ink.setLineDash([3, 2]);
    ink.beginPath();
    ink.arc(this.x(this.xs[i]), this.y(this.ys[j]), 9, 0, 2 * Math.PI);
    ink.stroke();
    ink.setLineDash([]);
  }
  nearest(px, py) {
    const close = (places, at) => places.reduce((best, v, k) => (Math.abs(at(v)) < Math.abs(at(places[best])) ? k : best), 0);
    return { i: close(this.xs, (v) => this.x(v) - px), j: close(this.ys, (v) => this.y(v) - py) };
  }
}

function worstOf(plane) {
  let at = -1;
  plane.low.forEach((r, k) => { if (Number.isFinite(r) && (at < 0 || r < plane.low[at])) at = k; });
  return at < 0 ? null : { i: at % plane.wide, j: Math.floor(at / plane.wide) };
}

// Questions that bind somewhere, those of most cells first: [check, number].
export function binding(plane) {
  const tally = new Map();
  plane.who.forEach((c) => c >= 0 && tally.set(c, (tally.get(c) ?? 0) + 1));
  return [...tally].sort((a, b) => b[1] - a[1]).slice(0, 12).map(([check], k) => [check, k + 1]);
}

export function RangeMap({ field, tick, only, onPoint, pinned }) {
  const canvas = useRef(null);
  const paper = useRef(null);
  const rails = field.rails();
  const [rail, setRail] = useState(rails[0]);
  const plan = useMemo(() => field.plan(rails.includes(rail) ? rail : rails[0]), [field, rail]);
  const [moved, setMoved] = useState({});
  const held = useMemo(() => ({ ...field.worst(only), ...moved }), [field, only, moved]);
  const [size, setSize] = useState(0);
  const [cursor, setCursor] = useState(null);
  const plane = useMemo(() => field.plane(plan, held, only), [field, tick, plan, held, only]);
  const numbers = useMemo(() => (only === null ? binding(plane) : []), [plane, only]);
  const worst = useMemo(() => worstOf(plane), [plane]);

  useEffect(() => {
    const watch = new ResizeObserver(() => setSize((n) => n + 1));
    watch.observe(canvas.current);
    return () => watch.disconnect();
  }, []);
  useEffect(() => {
    paper.current = new Paper(canvas.current, field, plan, plane);
    paper.current.draw(numbers, worst);
    for (const place of [cursor, pinned]) if (place && place.i < plane.wide && place.j < plane.high) paper.current.ring(place);
    canvas.current.dataset.drawn = String(Number(canvas.current.dataset.drawn || 0) + 1);
  }, [field, plan, plane, size, cursor, pinned]);

  const told = cursor ?? pinned ?? worst;
  const list = told ? field.at(plan, told.i, told.j, held) : [];
  const place = (p) => [plan.up && [plan.up, p.j], plan.across && [plan.across, p.i]].filter(Boolean)
    .map(([name, k]) => shown(field.axes[name][k], unitOf(name))).join(", ");
  const pick = (p) => onPoint?.(p, pointOf(field, plan, held, p));
  function hover(event) {
    const box = canvas.current.getBoundingClientRect();
    const next = paper.current.nearest(event.clientX - box.left, event.clientY - box.top);
    if (!cursor || next.i !== cursor.i || next.j !== cursor.j) setCursor(next);
  }
  function key(event) {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    const from = cursor ?? worst;
    if (event.key === "Enter" && from) pick(from);
    if (event.key === "Escape") setCursor(null);
    if (!step || !from) return;
    event.preventDefault();
    setCursor({ i: Math.min(plane.wide - 1, Math.max(0, from.i + step[0])), j: Math.min(plane.high - 1, Math.max(0, from.j + step[1])) });
  }
  return html`<div class="map">
    <div class="map-head">
      ${rails.length > 1 && html`<label>Rail <select value=${rail} onChange=${(e) => setRail(e.target.value)}>
        ${rails.map((r) => html`<option value=${r}>${r}</option>`)}</select></label>`}
      ${field.estimated && html`<span class="stamp" role="status">estimate, being verified</span>`}
    </div>
    <canvas ref=${canvas} class=${field.estimated ? "estimated" : ""} tabindex="0" role="img"
      aria-label=${`Map of the lowest reserve. ${worst ? `Worst at ${place(worst)}: ${percent(plane.low[worst.j * plane.wide + worst.i])}.` : ""} Arrow keys move over it, Enter pins a point.`}
      onMouseMove=${hover} onMouseLeave=${() => setCursor(null)} onClick=${(e) => { hover(e); const b = canvas.current.getBoundingClientRect(); pick(paper.current.nearest(e.clientX - b.left, e.clientY - b.top)); }} onKeyDown=${key}></canvas>
    <div class="sliders">
      ${plan.sliders.map((name) => {
        const places = field.axes[name];
        const at = Math.min(held[name] ?? 0, places.length - 1);
        return html`<label>${wordsOf(name)} <output>${shown(places[at], unitOf(name))}</output>
          <input type="range" min="0" max=${places.length - 1} step="1" value=${at}
            aria-valuetext=${shown(places[at], unitOf(name))}
            onInput=${(e) => setMoved({ ...moved, [name]: Number(e.target.value) })} /></label>`;
      })}
    </div>
    ${numbers.length > 0 && html`<ol class="key" aria-label="Questions that bind">${numbers.map(([check]) =>
      html`<li>${field.checks[check].subject}: ${field.checks[check].question}</li>`)}</ol>`}
    ${told && html`<div class="here" aria-live="polite"><h3>At ${place(told)}${told === worst ? ", the worst place" : ""}</h3>
      <table><tbody>${list.slice(0, 10).map((t) => html`<tr class=${t.reserve < 0 ? "short" : ""}>
        <td class="number">${Number.isNaN(t.reserve) ? "?" : percent(t.reserve)}</td><td>${t.check.subject}: ${t.check.question}</td>
        <td class="number">${Number.isNaN(t.reserve) ? "not known" : shown(t.margin, t.check.unit)}</td></tr>`)}</tbody></table>
      ${list.length > 10 && html`<p class="more">and ${list.length - 10} with more reserve</p>`}</div>`}
  </div>`;
}

// A cell as an operating point: axis -> place, axes that are not drawn at their sliders or middle.
function pointOf(field, plan, held, { i, j }) {
  const found = {};
  field.names.forEach((name, axis) => {
    const places = field.axes[name];
    found[name] =
      name === plan.across ? places[i]
      : name === plan.up ? places[j]
      : places[plan.sliders.includes(name) ? Math.min(held[name] ?? 0, places.length - 1) : Math.floor((places.length - 1) / 2)];
  });
  return found;
}
