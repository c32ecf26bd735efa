// plotly.js is fetched beside everything else and started when it is asked for: pictures and findings do not wait.
const source = document.querySelector("[data-chart-library]");
let library = null;

export function chartLibrary() {
  library ??= new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = source.href;
    script.addEventListener("load", resolve);
    script.addEventListener("error", () => reject(new Error(source.dataset.chartLibrary)));
    document.head.append(script);
  });
  return library;
}
