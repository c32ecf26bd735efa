// What every script of the screen needs: the token, colours of the theme, numbers as this browser reads them.
export const token = document.querySelector("meta[name=pulsewright-token]").content;
export const colour = name => getComputedStyle(document.documentElement).getPropertyValue("--pw-" + name).trim();
export const calm = matchMedia("(prefers-reduced-motion: reduce)");
export const narrow = matchMedia("(max-width: 700px)");

export async function ask(url, body, signal) {
  const write = body === undefined ? {} : {
    method: "POST", body: JSON.stringify(body), headers: { "Content-Type": "application/json", "X-Pulsewright-Token": token },
  };
  const answer = await fetch(url, { ...write, signal, headers: { Accept: "application/json", ...write.headers } });
  const said = await answer.json();
  if (!answer.ok) throw Object.assign(new Error(said.what || answer.statusText), { said, status: answer.status });
  return said;
}

export function number(value, digits, comma, plus) {
  if (value === null || value === undefined || !isFinite(value)) return "–";
  let text = Math.abs(value).toFixed(digits).replace(/\B(?=(\d{3})+(?!\d))/g, digits ? "" : "\u202f");
  const zero = Number(text.replace("\u202f", "")) === 0;
  if (comma) text = text.replace(".", ",");
  return (value < 0 && !zero ? "\u2212" : plus && !zero ? "+" : "") + text;
}

export function onTheme(redraw) {
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
}

export function element(name, attributes = {}, ...inside) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key === "text") made.textContent = value; else made.setAttribute(key, value);
  }
  made.append(...inside);
  return made;
}
