// One operating point: what every net sits at and how hot every part gets, with typical parts.
import { html, useEffect, useState } from "./vendor/htm-preact.js";
import { ask } from "./api.js";
import { shown } from "./values.js";

export function Point({ at, revision, onClose }) {
  const [found, setFound] = useState(null);
  const [refused, setRefused] = useState("");
  const key = JSON.stringify(at);
  useEffect(() => {
    let wanted = true;
    setFound(null);
    setRefused("");
    ask("point", { at: key }).then((data) => wanted && setFound(data), (error) => wanted && setRefused(error.message));
    return () => { wanted = false; };
  }, [key, revision]);
  return html`<div class="point" aria-live="polite"><h3>With typical parts at ${found ? found.place : "…"}</h3>
    <button onClick=${onClose}>Close</button>
    ${refused && html`<p class="refused" role="alert">${refused}</p>`}
    ${found && html`<div class="columns"><table><thead><tr><th scope="col">net</th><th scope="col">voltage</th></tr></thead><tbody>
      ${found.nets.map(([net, volts]) => html`<tr><th scope="row">${net}</th><td class="number">${shown(volts, "V")}</td></tr>`)}</tbody></table>
      <table><thead><tr><th scope="col">part</th><th scope="col">heat</th><th scope="col">hottest</th></tr></thead><tbody>
      ${found.heat.map(([ref, watts, celsius]) => html`<tr><th scope="row">${ref}</th><td class="number">${shown(watts, "W")}</td><td class="number">${celsius === null ? "—" : shown(celsius, "°C")}</td></tr>`)}</tbody></table></div>
      ${found.waves.map((svg) => html`<img class="waves" alt="Waveforms of one switching period" src=${`data:image/svg+xml;utf8,${encodeURIComponent(svg)}`} />`)}`}
  </div>`;
}
