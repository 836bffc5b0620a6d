// Says when the code is too old.
const left = document.getElementById("left");
const until = Date.now() + 5 * 60e3;
const tick = setInterval(() => {
  const s = Math.max(0, Math.round((until - Date.now()) / 1000));
  left.textContent = s ? `${Math.floor(s / 60)}:${String(s % 60).padStart(2, "0")} left` : "Expired: choose a role again for a fresh code.";
  if (!s) clearInterval(tick);
}, 1000);
