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
    location.assign("/stock?form=void#void");
  } else if (name === "other_pair") {
    location.assign(`/scan/pair?next=${encodeURIComponent(location.pathname + location.search)}`);
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

// A badge says who reads from now on. What was typed before it is that person's, so it is sent first.
const badge = (code) => {
  const typedHere = [...document.querySelectorAll("input[data-check]")].some((one) => one.value);
  const note = document.querySelector("input[data-check]");
  if (typedHere) {
    const said = note && document.getElementById(`${note.id}-note`);
    if (said) said.textContent = document.getElementById("cards").dataset.first;
    return;
  }
  const form = document.createElement("form");
  form.method = "post";
  form.action = "/scan/pair";
  for (const [name, value] of [["code", code], ["next", location.pathname + location.search]]) {
    const field = document.createElement("input");
    field.type = "hidden"; field.name = name; field.value = value;
    form.append(field);
  }
  document.body.append(form);
  form.submit();
};

document.addEventListener("keydown", (event) => {
  const field = event.target.matches("input[type=text]") ? event.target : null;
  if (event.key !== "Enter") {
    if (!field && event.key.length === 1) typed += event.key;
    return;
  }
  const code = (field ? field.value : typed).trim();
  const name = commands[code.toUpperCase()];
  typed = "";
  if (!name && !/^person\/[a-z0-9][a-z0-9._-]*$/i.test(code)) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  if (field) field.value = "";
  if (name) act(name, field); else badge(code);
}, true);
