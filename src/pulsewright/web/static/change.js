// Step 4: dials are turned, the model answers. One question at a time; while it is answered only the last one waits.
import { ask, element, number } from "./page.js";
import { Chart } from "./chart.js";
import { chartLibrary } from "./chart_library.js";
import { Echo } from "./echo.js";

const root = document.querySelector("[data-change]"), said = JSON.parse(root.dataset.words);
const job = root.dataset.change, setup = root.dataset.setup;
const dials = [...root.querySelectorAll("[data-dial]")];
const status = root.querySelector("[data-status]"), gains = root.querySelector("[data-gains]"), gate = root.querySelector("[data-gate]");
const words = root.querySelector("[data-words-of]"), kept = root.querySelector("[name=dials]");
const speed = root.querySelector("[data-rpm]"), cylinder = root.querySelector("[data-cylinder]");

const chart = new Chart(root.querySelector("[data-plot]"), said.chart, { height: "low", readout: root.querySelector("[data-readout]") });
const echo = new Echo(root.querySelector("[data-echo]"), said.echo);
let ground = null, echoBefore = null, known = false; // ground: what was measured, and the model of the machine as it is

function values() {
  const found = {};
  for (const dial of dials) {
    const d = JSON.parse(dial.dataset.dial), input = dial.querySelector("input, select");
    const value = d.kind === "word" ? input.value : d.choices.length ? d.choices[Number(input.value)] : Number(input.value) / d.scale;
    if (d.kind === "word" ? value !== d.value : Math.abs(value - d.value) > 1e-7 || isNeeded(d)) found[d.name] = value;
  }
  return found;
}
// A size of a piece that is not fitted yet counts as soon as the piece is chosen.
const piece = () => { const box = root.querySelector('[data-name="end-piece"] select'); return box ? box.value : ""; };
const fitted = () => { const box = root.querySelector('[data-name="end-piece"]'); return box ? JSON.parse(box.dataset.dial).value : ""; };
const isNeeded = d => d.part_of && d.part_of === piece() && piece() !== fitted();

function tellDials() {
  for (const dial of dials) {
    const d = JSON.parse(dial.dataset.dial), input = dial.querySelector("input, select"), out = dial.querySelector("output");
    if (d.part_of) dial.hidden = d.part_of !== piece();
    if (!out) continue;
    const raw = d.choices.length ? d.choices[Number(input.value)] : Number(input.value) / d.scale;
    const moved = Math.abs(raw - d.value) > 1e-7;
    out.textContent = number(raw * d.factor, d.digits, said.comma, d.name === "ignition") + (d.unit === "°" || !d.unit ? "" : "\u202f") + d.unit;
    out.classList.toggle("moved", moved);
    input.setAttribute("aria-valuetext", out.textContent);
  }
  kept.value = JSON.stringify(values());
}

function draw(curve, moving) {
  const after = curve && { ...curve, words: said.now, role: "after", tone: "after", name: "" };
  if (moving) chart.draw(ground, after);
  else chart.draw(after ? { ...ground, curves: [...ground.curves, after] } : ground);
}

const interval = (i, digits) => `${number(i.value, digits, said.comma, true)}\u202f% (${number(i.low, digits, said.comma, true)} – ${number(i.high, digits, said.comma, true)})`;

function tell(found) {
  words.textContent = found.words || said.asItIs;
  gains.replaceChildren();
  if (found.gains) {
    if (found.gains.bottom) gains.append(element("p", {}, element("strong", { text: interval(found.gains.bottom, 1) }), " " + said.atHole));
    gains.append(element("p", {}, element("strong", { text: interval(found.gains.band, 1) }), " " + said.inBand));
    gains.append(element("p", { class: "faint", text: `${said.top} ${interval(found.gains.top, 1)}` }));
  }
  gate.className = "gate " + (found.refused.length ? "refused" : found.judged ? "safe" : "unknown");
  gate.replaceChildren(...(found.refused.length
    ? [element("strong", { text: found.curve ? said.refused : said.refusedAsItIs }), element("ul", {}, ...found.refused.map(r => element("li", { text: `${r.gate}: ${r.why}` })))]
    : [element("p", { text: found.judged ? said.safe : said.unknown })]));
}

// Where a gate refuses, the slider that is being moved gets a mark.
function mark(dial, refused) {
  if (!dial) return;
  const input = dial.querySelector("input[type=range]"), track = dial.querySelector(".track");
  if (!input || !track) return;
  const at = Math.round(100 * (input.value - input.min) / (input.max - input.min));
  let spot = track.querySelector(`[data-at="${at}"]`);
  if (!spot && refused) {
    spot = element("span", { "data-at": at });
    spot.style.left = `${at}%`;
    track.append(spot);
  } else if (spot && !refused) spot.remove();
}

const GONE = 409; // the dials have moved on while this was computed

async function turn(level, dial) {
  status.textContent = level === "drag" ? said.coarse : said.computing;
  try {
    const found = await ask(`/jobs/${job}/try.json`, { setup, dials: values(), level });
    draw(found.curve, level === "drag"); tell(found); mark(dial, found.refused.length > 0);
    status.textContent = level === "drag" ? said.coarse : said.full;
    root.dataset.level = level; root.dataset.turns = Number(root.dataset.turns || 0) + 1;
  } catch (error) {
    if (error.status === GONE) return;
    status.textContent = said.cannot; words.textContent = error.message;
    gate.className = "gate refused"; gate.replaceChildren(element("p", { text: [error.message, error.said && error.said.hint].filter(Boolean).join(". ") }));
  }
}

let looking = new AbortController(); // a move leaves the echo that is being fetched behind
async function look(level) {
  const { signal } = looking = new AbortController();
  const body = { setup, level, rpm: Number(speed.value), cylinder: Number(cylinder.value) };
  const mine = `${body.rpm} ${body.cylinder} ${level}`;
  try {
    if (!echoBefore || echoBefore.of !== mine) echoBefore = { of: mine, data: await ask(`/jobs/${job}/echo.json`, { ...body, dials: {} }, signal) };
    const turned = values(), same = Object.keys(turned).length === 0;
    const data = same ? echoBefore.data : await ask(`/jobs/${job}/echo.json`, { ...body, dials: turned }, signal);
    echo.take(data, echoBefore.data);
    root.querySelector("[data-sentence]").textContent = data.sentence;
  } catch (error) {
    if (!signal.aborted && error.status !== GONE) root.querySelector("[data-sentence]").textContent = error.message;
  }
}

// One hand, one loop: the coarse curve first, then the echo; when the hand rests, both in full. A newer move goes
// before everything that is not begun, and what it overtakes on the server gives up.
const PAUSE = 250; // ms that a hand rests before the full answer is asked for
const HOLD = 60; // and before the coarse echo is: it would take the next curve's time from a hand that goes on
let moves = 0, looping = false, lastDial = null, curveToo = false;
let wake = () => {}; // the next move ends a rest at once
const rest = time => new Promise(done => { wake = done; setTimeout(done, time); });

async function answer() {
  if (looping) return;
  looping = true;
  for (let done = -1; done !== moves;) {
    const mine = moves, curve = curveToo, newest = () => mine === moves;
    curveToo = false;
    if (curve) await turn("drag", lastDial);
    if (newest()) await rest(HOLD);
    if (newest()) await look("drag");
    if (newest()) await rest(PAUSE);
    if (newest()) { finish(mine, curve); done = mine; }
  }
  looping = false;
}
// Outside the loop, so that the next move need not wait for it.
async function finish(mine, curve) {
  if (curve) await turn("show", lastDial);
  if (mine === moves) await look("show");
}

function moved(event) {
  lastDial = event.target.closest("[data-dial]"); moves += 1; curveToo = true;
  looking.abort(); tellDials(); wake();
  if (known) answer();
}
for (const dial of dials) dial.addEventListener("input", moved);
for (const input of [speed, cylinder]) input.addEventListener("input", () => {
  root.querySelector("[data-rpm-shown]").textContent = number(Number(speed.value), 0) + "\u202frpm";
  moves += 1; wake();
  if (known) answer();
});
root.querySelector("[data-reset]").addEventListener("click", () => {
  for (const dial of dials) {
    const d = JSON.parse(dial.dataset.dial), input = dial.querySelector("input, select");
    input.value = d.kind === "word" ? d.value : d.choices.length ? d.choices.findIndex(c => Math.abs(c - d.value) < 1e-9) : d.value * d.scale;
    for (const spot of dial.querySelectorAll(".track span")) spot.remove();
  }
  lastDial = null; moves += 1; curveToo = true; tellDials(); wake();
  if (known) answer();
});
root.querySelector("[data-save]").addEventListener("click", async () => {
  const url = await chart.svg();
  element("a", { href: url, download: "torque.svg" }).click();
});

root.querySelector("form").addEventListener("submit", tellDials);
echo.title(said.now, said.before);
tellDials();
status.textContent = said.computing;
Promise.all([ask(`/jobs/${job}/start.json?setup=${encodeURIComponent(setup)}`), chartLibrary()]).then(([data]) => {
  const { before: model, ...measured } = data;
  const base = { ...model, words: said.before, role: "before", tone: "before", name: "" };
  ground = { ...measured, curves: [...measured.curves, base] }; known = true;
  draw(null); status.textContent = said.full; root.dataset.ready = "yes";
  turn("show", null); look("show");
}).catch(error => { status.textContent = error.message; });
