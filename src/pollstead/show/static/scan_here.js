// A scanner types into whatever has the focus, and what needs another look takes it. The next scan then goes to
// the one field for scans and takes the place of what stood there; without this script it would be lost.
const field = document.querySelector("[data-scan-here]");
if (field) {
  document.addEventListener("keydown", (event) => {
    if (event.key.length !== 1 || event.key === " " || event.ctrlKey || event.altKey || event.metaKey) return;
    if (event.target.matches("input, select, textarea, summary")) return;
    field.focus();
    field.select();
  });
}
