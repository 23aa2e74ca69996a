"use strict";
// The part of the address after `#` never leaves the browser: it carries the token once, when this
// browser is paired, and is taken out of the address at once.
const KEY = "nightvat-token";
const given = new URLSearchParams(location.hash.slice(1)).get("token");
if (given) {
  localStorage.setItem(KEY, given);
  history.replaceState(null, "", location.pathname);
}
const token = localStorage.getItem(KEY);
const at = (id) => document.getElementById(id);
// What can be asked for in which state; the daemon has the last word.
const FLOWS = ["proving", "striking", "ramping", "building", "holding"];
const FITS = {
  "/pause": (state) => FLOWS.includes(state),
  "/resume": (state, resumes) => state === "paused" || resumes,
  "/stop": (state) => FLOWS.includes(state) || ["paused", "stopping", "unconfirmed"].includes(state),
  "/hush": () => Boolean(document.querySelector(".alarm, .latch")),
  "/clear": (state) => ["tripped", "interrupted"].includes(state),
};

function fit() {
  at("hands").hidden = !token;
  at("unpaired").hidden = Boolean(token);
  const header = document.querySelector("header");
  const { state, resumes } = header.dataset;
  for (const button of document.querySelectorAll("button")) {
    button.hidden = !FITS[button.dataset.route](state, resumes === "true");
  }
}

async function look() {
  try {
    const answer = await fetch("/now", { cache: "no-store", signal: AbortSignal.timeout(5000) });
    if (!answer.ok) throw new Error(answer.statusText);
    at("now").innerHTML = await answer.text();
    at("silent").hidden = true;
  } catch {
    at("silent").hidden = false;
  }
  fit();
}

async function press(button) {
  const { route, sure } = button.dataset;
  if (sure && !confirm(sure)) return;
  button.disabled = true;
  at("answer").textContent = "…";
  try {
    const headers = { authorization: `Bearer ${token}` };
    const answer = await fetch(route, { method: "POST", headers, signal: AbortSignal.timeout(25000) });
    const said = await answer.json();
    if (said.error) at("answer").textContent = said.error.text;
    else if (said.confirmed === false) at("answer").textContent = "Not confirmed off. Go to the bench.";
    else if (said.confirmed) at("answer").textContent = "Output off, confirmed by reading.";
    else at("answer").textContent = "";
  } catch {
    at("answer").textContent = "No answer. Go to the bench.";
  }
  button.disabled = false;
  look();
}

for (const button of document.querySelectorAll("button")) {
  button.addEventListener("click", () => press(button));
}
fit();
setInterval(look, 2000);
