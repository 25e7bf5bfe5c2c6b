// One line to the desk for all tabs: a browser keeps only a few connections to one host open.
const NAMES = ["state", "proof", "progress", "ended", "failed", "proposing", "proposed"];
const ports = new Set();
let line = null;
let state = null; // whether it is open, for a tab that comes later

function spread(name, text) {
  for (const port of ports) port.postMessage({ name, text });
}

function open() {
  line = new EventSource("../api/events");
  for (const name of NAMES) line.addEventListener(name, (event) => spread(name, event.data));
  line.onopen = () => spread((state = "open"), "{}");
  line.onerror = () => spread((state = "lost"), "{}");
}

self.onconnect = (event) => {
  const [port] = event.ports;
  ports.add(port);
  port.onmessage = () => {
    ports.delete(port); // a tab says that it goes
    if (!ports.size) { line.close(); line = null; state = null; }
  };
  if (!line) open();
  else if (state) port.postMessage({ name: state, text: "{}" });
};
