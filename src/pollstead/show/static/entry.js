// A scanner types a code and then Enter. In a form of readings Enter goes to the next field, so that a
// scan fills one field and sends nothing. Without this script Enter sends the form, which then names
// what is still empty and keeps what was typed.
for (const form of document.querySelectorAll("form[data-readings]")) {
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing || !event.target.matches("input")) return;
    event.preventDefault();
    const stops = [...form.querySelectorAll("input:not([type=hidden]), select, textarea, button")];
    stops[stops.indexOf(event.target) + 1]?.focus();
  });
}
