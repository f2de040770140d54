// Command cards on a form of readings: a whole code and Enter does what its card says. The codes come from
// the page, begin with a sign that no number holds, and are long; a single character never does anything.
const commands = JSON.parse(document.getElementById("cards")?.dataset.commands ?? "{}");
let typed = "";

const act = (name, field) => {
  const form = document.querySelector("form[data-readings]");
  if (name === "undo") {
    const filled = [...(form?.querySelectorAll("input[type=text]") ?? [])].filter((one) => one.value && one !== field);
    const before = field ? filled.filter((one) => one.compareDocumentPosition(field) & Node.DOCUMENT_POSITION_FOLLOWING) : filled;
    const last = before.at(-1);
    if (last) { last.value = ""; last.focus(); }
  } else if (name === "next") {
    const read = [...(form?.querySelectorAll("input[data-check]") ?? [])].some((one) => one.value);
    if (read) form.requestSubmit();
    else document.querySelector("a[data-next]")?.click();
  } else if (name === "void") {
    location.assign("/stock#void");
  } else if (name === "other_pair") {
    location.assign(`/who?next=${encodeURIComponent(location.pathname + location.search)}`);
  } else if (name === "stop") {
    location.assign("/tests");
  }
};

// The first seal is ready for the scanner; what needs another look keeps the focus. Going to the place that
// an address names after its number sign takes the focus away, so that it is set once more after that.
const ready = () => {
  if (document.activeElement === document.body && !document.getElementById("faults")) {
    document.querySelector("input[data-check]")?.focus({ preventScroll: true });
  }
};
ready();
addEventListener("load", () => setTimeout(ready, 0));

document.addEventListener("keydown", (event) => {
  const field = event.target.matches("input[type=text]") ? event.target : null;
  if (event.key !== "Enter") {
    if (!field && event.key.length === 1) typed += event.key;
    return;
  }
  const name = commands[(field ? field.value : typed).trim().toUpperCase()];
  typed = "";
  if (!name) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  if (field) field.value = "";
  act(name, field);
}, true);
