// Findings drawn: drag or pinch to look closer, double tap for the whole. The
// bench thins what is drawn and is asked again for what is looked at.
let loaded;
function load() {
  const here = import.meta.url.replace(/[^/]*$/, "");
  document.head.append(Object.assign(document.createElement("link"), { rel: "stylesheet", href: here + "uplot.css" }));
  return new Promise((done, failed) => document.head.append(Object.assign(document.createElement("script"), { src: here + "uplot.js", onload: done, onerror: failed })));
}

// plots draws what stands in a part of the page, when it comes into view.
export async function plots(root) {
  const places = [...root.querySelectorAll("[data-plot]")];
  if (!places.length) return;
  await (loaded ??= load());
  const look = new IntersectionObserver((all) => {
    for (const e of all) if (e.isIntersecting) { look.unobserve(e.target); draw(e.target); }
  }, { rootMargin: "300px" });
  for (const p of places) look.observe(p);
}
plots(document);

const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
const withUnit = (name, unit) => (unit ? `${name}, ${unit}` : name);
const get = async (path) => (await fetch(path, { headers: { Accept: "application/json" } })).json();

function rows(s) {
  const out = [s.x, s.y];
  if (s.low && s.high) out.push(s.low, s.high);
  return out;
}

async function draw(place) {
  const s = await get(place.dataset.plot);
  if (!s.x?.length) { place.append("nothing to draw"); return; }
  const bars = s.shape === "bars";
  const bounds = Boolean(s.low && s.high);
  const pad = bars ? (s.x.length > 1 ? (s.x[1] - s.x[0]) * 0.7 : 1) : 0;
  const axis = { stroke: colour("soft"), grid: { stroke: colour("rule"), width: 1 }, ticks: { stroke: colour("rule") }, font: "13px system-ui", labelFont: "13px system-ui" };
  const bound = { label: "from", stroke: colour("warn"), width: bars ? 0 : 1, dash: [5, 4], points: { show: false } };
  const options = {
    width: place.clientWidth, height: 230, padding: [10, 14, 0, 0],
    cursor: { drag: { x: true, y: false, dist: 8 }, y: false },
    scales: { x: { time: false, range: (u, a, b) => [a - pad, b + pad] }, y: bars ? { range: (u, a, b) => [Math.min(0, a), b * 1.08 || 1] } : s.marks?.length ? { range: (u, a, b) => [a - 0.06 * (b - a), b + 0.2 * (b - a)] } : {} },
    axes: [{ ...axis, label: withUnit(s.x_name, s.x_unit), labelSize: 20, size: 36, ...(s.labels ? { splits: () => s.x, values: () => s.labels } : s.x_unit === "°" ? { incrs: [10, 30, 90, 180, 360] } : {}) },
      { ...axis, label: withUnit(s.y_name, s.y_unit), labelSize: 20, size: 56 }],
    series: [{ label: s.x_name, value: (u, v) => number(v) },
      { label: s.y_name, stroke: colour("mark"), fill: bars ? colour("mark") : undefined, width: 2, points: { show: false }, paths: bars ? uPlot.paths.bars({ size: [0.6, 60] }) : undefined, value: (u, v) => number(v) },
      ...(bounds ? [{ ...bound, value: (u, v) => number(v) }, { ...bound, label: "to", value: (u, v) => number(v) }] : [])],
    hooks: { setSelect: [(u) => closer(u, place, s)], draw: [...(bars && bounds ? [whiskers] : []), (u) => uprights(u, s.marks ?? [])] },
  };
  if (bounds && !bars) options.bands = [{ series: [3, 2], fill: colour("warn") + "33" }];
  const plot = new uPlot(options, rows(s), place);
  plot.over.addEventListener("dblclick", async () => plot.setData(rows(await get(place.dataset.plot))));
  pinch(plot, place, s);
  new ResizeObserver(() => plot.setSize({ width: place.clientWidth, height: 230 })).observe(place);
}

const number = (v) => (v === null || v === undefined ? "–" : Number(v.toPrecision(4)).toString());

function whiskers(u) {
  const c = u.ctx;
  c.save();
  c.strokeStyle = colour("warn");
  c.lineWidth = 2 * devicePixelRatio;
  u.data[0].forEach((x, i) => {
    const px = u.valToPos(x, "x", true), low = u.valToPos(u.data[2][i], "y", true), high = u.valToPos(u.data[3][i], "y", true), w = 6 * devicePixelRatio;
    c.beginPath();
    c.moveTo(px, low); c.lineTo(px, high);
    c.moveTo(px - w, low); c.lineTo(px + w, low); c.moveTo(px - w, high); c.lineTo(px + w, high);
    c.stroke();
  });
  c.restore();
}

// uprights marks places on the X axis, a label at the top of each, only its number
// where there is no room for more.
function uprights(u, marks) {
  const c = u.ctx, { left, top, width, height } = u.bbox;
  c.save();
  c.strokeStyle = c.fillStyle = colour("soft");
  c.lineWidth = devicePixelRatio;
  c.setLineDash([3 * devicePixelRatio, 4 * devicePixelRatio]);
  c.font = `${12 * devicePixelRatio}px system-ui`;
  c.textAlign = "left";
  for (const m of marks) {
    const x = u.valToPos(m.x, "x", true);
    if (x < left || x > left + width) continue;
    c.beginPath();
    c.moveTo(x, top); c.lineTo(x, top + height);
    c.stroke();
    const room = Math.min(...marks.map((o) => (o.x > m.x ? u.valToPos(o.x, "x", true) - x : Infinity))) - 8 * devicePixelRatio;
    c.fillText(c.measureText(m.label).width > room ? m.label.replace(/^\D+/, "") : m.label, x + 4 * devicePixelRatio, top + 12 * devicePixelRatio);
  }
  c.restore();
}

// closer asks the bench for the part looked at, in full detail.
async function closer(u, place, s) {
  if (s.shape === "bars" || u.select.width < 8) return;
  show(u, place, u.posToVal(u.select.left, "x"), u.posToVal(u.select.left + u.select.width, "x"));
}

async function show(u, place, from, to) {
  const part = await get(`${place.dataset.plot}?from=${from}&to=${to}`);
  u.setData(rows(part), false);
  u.setScale("x", { min: from, max: to });
}

// pinch with two fingers.
function pinch(u, place, s) {
  if (s.shape === "bars") return;
  const at = new Map();
  let start;
  u.over.addEventListener("pointerdown", (e) => {
    at.set(e.pointerId, e.offsetX);
    if (at.size === 2) start = { xs: [...at.values()].map((x) => u.posToVal(x, "x")).sort((a, b) => a - b) };
  });
  u.over.addEventListener("pointermove", (e) => {
    if (!at.has(e.pointerId)) return;
    at.set(e.pointerId, e.offsetX);
    if (at.size !== 2 || !start) return;
    const [a, b] = [...at.values()].sort((x, y) => x - y);
    if (b - a < 20) return;
    const perPixel = (start.xs[1] - start.xs[0]) / (b - a);
    const min = start.xs[0] - a * perPixel;
    start.range = [min, min + perPixel * u.over.clientWidth];
    u.setScale("x", { min: start.range[0], max: start.range[1] });
  });
  const end = (e) => {
    at.delete(e.pointerId);
    if (start?.range && at.size < 2) show(u, place, ...start.range);
    if (at.size < 2) start = undefined;
  };
  for (const kind of ["pointerup", "pointercancel", "pointerleave"]) u.over.addEventListener(kind, end);
}
