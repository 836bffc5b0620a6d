// What happens in a job, as it happens.
export function watch(job, saw, linked = () => {}) {
  const source = new EventSource(`/jobs/${job}/live`);
  source.onopen = () => linked(true);
  source.onerror = () => linked(false);
  for (const [kind, f] of Object.entries(saw)) source.addEventListener(kind, (e) => f(JSON.parse(e.data)));
  return source;
}

export const chanceWords = (p) => (p > 0.99 ? ">99 %" : p < 0.01 ? "<1 %" : `${Math.round(100 * p)} %`);

// showNumbers fills the three readouts.
export function showNumbers(m) {
  const put = (id, words) => { document.getElementById(id).textContent = words; };
  put("rpm", m.rpm ? Math.round(m.rpm) : "–");
  put("missing", m.missing ? m.missing.value.toFixed(1) : "–");
  put("chance", m.chance === undefined ? "–" : chanceWords(m.chance));
}

export function showLevel(m) {
  document.getElementById("levelrow").hidden = false;
  const share = Math.max(0, Math.min(1, (m.db + 72) / 72));
  const bar = document.getElementById("level");
  bar.setAttribute("width", `${(100 * share).toFixed(0)}%`);
  bar.parentElement.classList.toggle("clip", !!m.clipped);
  document.getElementById("leveltext").textContent = m.clipped ? "too loud: move it away" : m.db < -66 ? "hardly anything: move it closer" : `${m.db.toFixed(0)} dB, good`;
}
