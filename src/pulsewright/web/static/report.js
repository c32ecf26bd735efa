// Step 6: print the page that is shown, and not the screen around it.
const button = document.querySelector("[data-print]"), frame = document.querySelector("iframe.preview");
if (button && frame) {
  button.hidden = false;
  button.addEventListener("click", () => { frame.contentWindow.focus(); frame.contentWindow.print(); });
}
