// Reads a table: any of comma, semicolon, tab; decimal comma or point; a header
// or none. Columns that are not numbers are left out.
const most = 2_000_000; // rows

export function readTable(text) {
  const lines = text.split(/\r\n|\n|\r/).filter((l) => l.trim() && !l.startsWith("#")).slice(0, most);
  if (lines.length < 3) throw new Error("The table has fewer than three rows.");
  const cut = [";", "\t", ","].map((c) => [lines[1].split(c).length, c]).sort((a, b) => b[0] - a[0])[0][1];
  const number = (s) => { const v = s.trim().replace(/^"|"$/g, ""); return v === "" ? NaN : Number(cut === "," ? v : v.replace(",", ".")); };
  const head = lines[0].split(cut).map((s) => s.trim().replace(/^"|"$/g, ""));
  const headed = head.some((h) => Number.isNaN(number(h)));
  const rows = lines.slice(headed ? 1 : 0).map((l) => l.split(cut));
  const columns = head.map((h, i) => ({ name: headed ? h : `column ${i + 1}`, values: rows.map((r) => number(r[i] ?? "")) }));
  const good = columns.filter((c) => c.values.filter(Number.isFinite).length > c.values.length / 2);
  if (!good.length) throw new Error("No column of the table holds numbers.");
  return good;
}

// looksLikeTime: it only ever rises.
export const looksLikeTime = (c) => c.values.length > 2 && c.values.every((v, i) => i === 0 || v > c.values[i - 1]);

export function sketch(values, width = 300, height = 56) {
  const n = values.length, bins = Math.min(n, width);
  const finite = values.filter(Number.isFinite);
  let low = Infinity, high = -Infinity;
  for (const v of finite) { if (v < low) low = v; if (v > high) high = v; }
  const y = (v) => (height - 3 - ((height - 6) * (v - low)) / (high - low || 1)).toFixed(1);
  let d = "";
  for (let i = 0; i < bins; i++) {
    let a = Infinity, b = -Infinity;
    for (let k = Math.floor((i * n) / bins); k < Math.floor(((i + 1) * n) / bins); k++) { const v = values[k]; if (v < a) a = v; if (v > b) b = v; }
    if (a <= b) d += `${d ? "L" : "M"}${((i * width) / bins).toFixed(1)} ${y(a)}L${((i * width) / bins).toFixed(1)} ${y(b)}`;
  }
  return { d, low, high };
}
