// The documents of the newest proof: shown, and to be taken away.
import { html, useEffect, useState } from "./vendor/htm-preact.js";
import { ask } from "./api.js";

const LOOKED_AT = /\.(svg|html|pdf|csv)$/;

export function Make({ revision, proved }) {
  const [made, setMade] = useState(null);
  const [refused, setRefused] = useState("");
  const [shown, setShown] = useState("report.html");
  useEffect(() => {
    if (!proved) return undefined;
    let wanted = true;
    setRefused("");
    ask("papers").then((data) => wanted && setMade({ ...data, revision }), (error) => wanted && setRefused(error.message));
    return () => { wanted = false; };
  }, [revision, proved]);
  return html`<section class="make"><h2>Papers</h2>
    ${!proved && html`<p>They are made from the proof at depth default, which is still running.</p>`}
    ${proved && !made && !refused && html`<p role="status">Making them …</p>`}
    ${refused && html`<p class="refused" role="alert">${refused}</p>`}
    ${made && html`<div class="shelf"><ul>${made.files.map(({ name, bytes }) => html`<li>
        ${LOOKED_AT.test(name) ? html`<button aria-pressed=${shown === name} onClick=${() => setShown(name)}>${name}</button>` : html`<span>${name}</span>`}
        <a download=${name} href=${`papers/${name}`} aria-label=${`Download ${name}`}>take (${Math.ceil(bytes / 1024)} kB)</a></li>`)}</ul>
      ${Object.entries(made.unmade).map(([name, reason]) => html`<p>Not made: ${name}: ${reason}</p>`)}
      <iframe title=${`Preview of ${shown}`} src=${`papers/${shown}`} key=${`${shown} ${made.revision}`}></iframe></div>`}
  </section>`;
}
