// What the page asks of the desk, and what it is told.

export class Refused extends Error {}

async function answered(response) {
  const told = response.headers.get("content-type") || "";
  const data = told.startsWith("application/json") ? await response.json() : {};
  if (!response.ok) throw new Refused(data.refused || `${response.status} ${response.statusText}`);
  return data;
}

export async function ask(name, query = {}) {
  const words = new URLSearchParams(query).toString();
  return answered(await fetch(`api/${name}${words ? `?${words}` : ""}`));
}

export async function tell(name, sent = {}) {
  return answered(
    await fetch(`api/${name}`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(sent),
    }),
  );
}

// The line on which the desk tells what happens; it opens itself again. All tabs share one.
export function listen(heard) {
  const worker = new SharedWorker("page/line.js");
  worker.port.onmessage = ({ data }) => heard(data.name, JSON.parse(data.text));
  const leave = () => worker.port.postMessage("bye");
  addEventListener("pagehide", leave);
  return () => { removeEventListener("pagehide", leave); leave(); };
}
