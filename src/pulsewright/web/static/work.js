// Long work: how far it is, once a second; the page is loaded again when it is over.
import { ask } from "./page.js";

for (const box of document.querySelectorAll("[data-work]")) {
  const bar = box.querySelector("progress"), words = box.querySelector(".words");
  if (!bar) continue;
  let misses = 0;
  const look = async () => {
    try {
      const work = await ask(`/work/${box.dataset.work}.json`);
      misses = 0;
      if (work.over) { location.reload(); return; }
      bar.value = work.progress;
      words.textContent = work.words;
    } catch (error) {
      misses += 1; // the server may be starting again; what it was at goes on
    }
    setTimeout(look, Math.min(1000 * 2 ** misses, 15000));
  };
  setTimeout(look, 1000);
}
