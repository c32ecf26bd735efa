// Step 1: the overlay and the difference that answer to the pointer, and files that are dropped.
import { ask, element } from "./page.js";
import { Chart } from "./chart.js";
import { Difference } from "./difference.js";

for (const box of document.querySelectorAll("[data-chart]")) {
  ask(box.dataset.chart).then(data => new Chart(box, JSON.parse(box.dataset.words)).draw(data));
}

for (const box of document.querySelectorAll("[data-difference]")) {
  ask(box.dataset.difference).then(data => new Difference(box, JSON.parse(box.dataset.words)).draw(data));
}

for (const area of document.querySelectorAll("[data-drop]")) {
  const input = area.querySelector("input[type=file]"), names = area.querySelector(".names");
  const tell = () => names.replaceChildren(...[...input.files].map(file => element("li", { text: file.name })));
  input.addEventListener("change", tell);
  for (const kind of ["dragenter", "dragover"]) area.addEventListener(kind, event => { event.preventDefault(); area.classList.add("over"); });
  for (const kind of ["dragleave", "drop"]) area.addEventListener(kind, () => area.classList.remove("over"));
  area.addEventListener("drop", event => { event.preventDefault(); input.files = event.dataTransfer.files; tell(); });
}
