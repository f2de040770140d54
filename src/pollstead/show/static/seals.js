// Tell at once whether a number that was typed or scanned is in the stock and free. What the other
// person typed is never asked for. Without this script the same is told when the form is sent.
for (const field of document.querySelectorAll("input[data-check]")) {
  field.addEventListener("change", async () => {
    const note = document.getElementById(`${field.id}-note`);
    if (!note) return;
    note.textContent = "";
    if (!field.value.trim()) return;
    const asked = new URLSearchParams({ field: field.dataset.check, number: field.value.trim() });
    try {
      const answer = await fetch(`/tests/check?${asked}`);
      note.textContent = answer.ok ? await answer.text() : "";
    } catch {
      note.textContent = "";
    }
  });
}
