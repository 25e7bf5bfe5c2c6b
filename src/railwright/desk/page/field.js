// Margins over the operating range: what was verified, what a changed value makes of them to first
// order, and who has the lowest reserve where. No drawing here.

function unpacked(text) {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  return new Float32Array(bytes.buffer);
}

export class Field {
  // data: as /api/whole gives the map.
  constructor(data) {
    this.revision = data.revision;
    this.depth = data.depth;
    this.checks = data.checks;
    this.names = Object.keys(data.axes);
    this.axes = data.axes;
    this.sizes = this.names.map((name) => data.axes[name].length);
    this.points = this.sizes.reduce((a, b) => a * b, 1);
    this.verified = unpacked(data.margins);
    this.margins = this.verified;
    this.estimated = false;
    this.strides = this.sizes.map((_, i) => this.sizes.slice(i + 1).reduce((a, b) => a * b, 1));
  }

  // Margins with a value changed by a share of itself; slopes: as /api/slopes, unpacked.
  estimate(slopes, share) {
    const slope = share >= 0 ? slopes.up : slopes.down;
    const found = new Float32Array(this.verified.length);
    for (let i = 0; i < found.length; i++) {
      const by = slope[i] * share;
      found[i] = Number.isNaN(by) ? this.verified[i] : this.verified[i] + by;
    }
    this.margins = found;
    this.estimated = true;
  }

  settle() {
    this.margins = this.verified;
    this.estimated = false;
  }

  reserve(check, point) {
    return this.margins[check * this.points + point] / this.checks[check].scale;
  }

  // Lowest reserve of one check over all points; null where none is known.
  lowest(check) {
    let low = Infinity;
    for (let p = 0; p < this.points; p++) {
      const found = this.reserve(check, p);
      if (found < low) low = found;
    }
    return Number.isFinite(low) ? low : null;
  }

  // The two axes that are drawn, and those that have a slider each; the worst over all others.
  plan(rail) {
    const varies = this.names.filter((_, i) => this.sizes[i] > 1);
    const wanted = [`load ${rail}`, `output ${rail}`, "input", "ambient"].filter((n) => varies.includes(n));
    const [across, up] = wanted;
    const sliders = ["input", "ambient"].filter((n) => varies.includes(n) && n !== across && n !== up);
    return { across, up, sliders };
  }

  rails() {
    return [...new Set(this.names.filter((n) => n.includes(" ")).map((n) => n.slice(n.indexOf(" ") + 1)))];
  }

  // Where the lowest reserve of all points is: axis -> number of its place.
  worst(only = null) {
    let low = Infinity, at = 0;
    for (let check = only ?? 0; check < (only === null ? this.checks.length : only + 1); check++)
      for (let p = 0; p < this.points; p++) {
        const found = this.reserve(check, p);
        if (found < low) { low = found; at = p; }
      }
    return Object.fromEntries(this.names.map((name, axis) => [name, Math.floor(at / this.strides[axis]) % this.sizes[axis]]));
  }

  // Points of one cell of the plan: all that differ in what is neither drawn nor held.
  cell(plan, i, j, held) {
    let points = [0];
    this.names.forEach((name, axis) => {
      const at =
        name === plan.across ? [i]
        : name === plan.up ? [j]
        : plan.sliders.includes(name) ? [Math.min(held[name] ?? 0, this.sizes[axis] - 1)]
        : [...Array(this.sizes[axis]).keys()];
      points = points.flatMap((p) => at.map((k) => p + k * this.strides[axis]));
    });
    return points;
  }

  // Lowest reserve in every cell of the plan, and whose it is; only: the number of one check.
  plane(plan, held, only = null) {
    const wide = plan.across ? this.axes[plan.across].length : 1;
    const high = plan.up ? this.axes[plan.up].length : 1;
    const low = new Float32Array(wide * high).fill(Infinity);
    const who = new Int16Array(wide * high).fill(-1);
    const unknown = new Uint8Array(wide * high);
    const spare = new Float32Array(wide * high).fill(Infinity); // reserve beyond what is wanted
    const first = only ?? 0;
    const last = only === null ? this.checks.length : only + 1;
    for (let j = 0; j < high; j++)
      for (let i = 0; i < wide; i++)
        for (const point of this.cell(plan, i, j, held))
          for (let check = first; check < last; check++) {
            const found = this.reserve(check, point);
            const at = j * wide + i;
            if (Number.isNaN(found)) unknown[at] = 1;
            else {
              if (found < low[at]) { low[at] = found; who[at] = check; }
              spare[at] = Math.min(spare[at], found - this.checks[check].wanted);
            }
          }
    return { wide, high, low, who, unknown, spare };
  }

  // All reserves at the points of one cell, the lowest first.
  at(plan, i, j, held) {
    const points = this.cell(plan, i, j, held);
    const told = this.checks.map((check, number) => {
      const found = points.map((p) => this.reserve(number, p));
      const known = found.filter((r) => !Number.isNaN(r));
      const reserve = known.length ? Math.min(...known) : NaN;
      return { check, number, reserve, margin: reserve * check.scale };
    });
    return told.filter((t) => t.reserve < Infinity).sort((a, b) => a.reserve - b.reserve);
  }
}

export function slopesOf(data) {
  return { typical: data.typical, up: unpacked(data.up), down: unpacked(data.down) };
}
