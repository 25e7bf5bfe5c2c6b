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

// The line on which the desk tells what happens; it opens itself again.
export function listen(heard) {
  const line = new EventSource("api/events");
  for (const name of ["state", "proof", "progress", "ended", "failed", "proposing", "proposed"])
    line.addEventListener(name, (event) => heard(name, JSON.parse(event.data)));
  line.onopen = () => heard("open", {});
  line.onerror = () => heard("lost", {});
  return () => line.close();
}
