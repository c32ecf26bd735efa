// Step 1: the overlay and the difference that answer to the pointer, and files that are dropped.
import { ask, element } from "./page.js";
import { Chart } from "./chart.js";
import { chartLibrary } from "./chart_library.js";
import { Difference } from "./difference.js";

const boxes = [...document.querySelectorAll("[data-chart], [data-difference]")];
const inView = box => { const { top, bottom } = box.getBoundingClientRect(); return top < innerHeight && bottom > 0; };
const idle = () => new Promise(done => (window.requestIdleCallback || setTimeout)(done, { timeout: 500 }));

const shown = () => new Promise(done => requestAnimationFrame(() => setTimeout(done)));

// A box answers as soon as its numbers are there; what is in view is drawn first, the rest when there is time for it.
// Where numbers or the library cannot be had, the picture that came with the page stays.
async function drawAll() {
  const charts = new Map(boxes.map(box => [box, begun(box)]));
  await Promise.all(boxes.filter(inView).map(box => charts.get(box)));
  await shown();
  if (!await chartLibrary().then(() => true, () => false)) return;
  const first = boxes.filter(inView), rest = boxes.filter(box => !first.includes(box));
  for (const box of first) await full(charts.get(box));
  for (const box of rest) { await idle(); await full(charts.get(box)); }
}

async function begun(box) {
  const data = await ask(box.dataset.chart || box.dataset.difference).catch(() => null);
  if (!data) return null;
  const chart = new (box.dataset.chart ? Chart : Difference)(box, JSON.parse(box.dataset.words));
  chart.begin(data);
  return chart;
}

async function full(promised) {
  const chart = await promised;
  if (chart) chart.draw(chart.data);
}

for (const area of document.querySelectorAll("[data-drop]")) {
  const input = area.querySelector("input[type=file]"), names = area.querySelector(".names");
  const tell = () => names.replaceChildren(...[...input.files].map(file => element("li", { text: file.name })));
  input.addEventListener("change", tell);
  for (const kind of ["dragenter", "dragover"]) area.addEventListener(kind, event => { event.preventDefault(); area.classList.add("over"); });
  for (const kind of ["dragleave", "drop"]) area.addEventListener(kind, () => area.classList.remove("over"));
  area.addEventListener("drop", event => { event.preventDefault(); input.files = event.dataTransfer.files; tell(); });
}

if (boxes.length) drawAll();
