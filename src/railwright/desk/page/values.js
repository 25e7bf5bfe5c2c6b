// Values as they are typed, for estimates alone: what counts is what the desk makes of the text.

const PREFIX = { p: 1e-12, n: 1e-9, µ: 1e-6, μ: 1e-6, u: 1e-6, m: 1e-3, k: 1e3, K: 1e3, M: 1e6, G: 1e9 };
const CODE = { R: 1, L: 1e-3, ...PREFIX };

// The number in SI that a text means in a unit, or null. IEC 60062 codes: 4k7, R10, 2u2.
export function parsed(text, unit) {
  const found = text.trim().replace("−", "-");
  const code = /^(\d*)([RLpnuµμmkKMG])(\d+)$/.exec(found);
  if (code && (code[1] || code[2] === "R" || code[2] === "L"))
    return Number(`${code[1] || 0}.${code[3]}`) * CODE[code[2]];
  const plain = /^([-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)\s*(.*)$/.exec(found);
  if (!plain) return null;
  const [, number, rest] = plain;
  if (rest === unit || (rest === "" && unit === "1")) return Number(number);
  if (rest === "%" && unit === "1") return Number(number) / 100;
  if (rest && (rest.slice(1) === unit || (rest.length === 1 && unit !== "1")) && rest[0] in PREFIX)
    return Number(number) * PREFIX[rest[0]];
  return null;
}

const STEPS = [[1e9, "G"], [1e6, "M"], [1e3, "k"], [1, ""], [1e-3, "m"], [1e-6, "µ"], [1e-9, "n"], [1e-12, "p"]];

// A number with its unit in three digits.
export function shown(value, unit) {
  if (value === null || value === undefined || Number.isNaN(value)) return "—";
  if (!Number.isFinite(value)) return value > 0 ? "∞" : "−∞";
  if (value === 0) return `0 ${unit}`.trim();
  if (["1", "%", "°C", "K", "°", "K/W", ""].includes(unit)) return `${Number(value.toPrecision(3))} ${unit === "1" ? "" : unit}`.trim();
  const [factor, prefix] = STEPS.find(([f]) => Math.abs(value) >= f * 0.9995) || STEPS.at(-1);
  return `${Number((value / factor).toPrecision(3))} ${prefix}${unit}`.replace("-", "−");
}

export const percent = (reserve) =>
  reserve === null || reserve === undefined || !Number.isFinite(reserve)
    ? "—"
    : `${reserve < 0 ? "−" : "+"}${Math.abs(reserve * 100).toFixed(Math.abs(reserve) < 0.1 ? 1 : 0)} %`;
