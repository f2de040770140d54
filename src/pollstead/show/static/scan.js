// A scanner types a code and Enter, faster than a page loads. Scans wait in line here and go out one after
// another; the answer takes the place of the last one and the field keeps the focus. A scan that arrives
// while a button has the focus goes to the field, so that its Enter never presses the button. No single
// character does anything. Without this script each scan sends the form and loads the page.
const form = document.querySelector("form[data-scan]");
if (form) {
  const field = form.querySelector("input[type=text]");
  const waits = document.getElementById("scan-waits");
  const line = [];
  let busy = false;

  const tell = (words) => { waits.textContent = words && line.length ? `${words} ${line.length}` : ""; };

  const take = (page) => {
    for (const id of ["scan-live", "scan-result"]) {
      const fresh = page.getElementById(id);
      if (fresh) document.getElementById(id)?.replaceChildren(...fresh.childNodes);
    }
    const here = page.querySelector(".person");
    if (here) document.querySelector(".person")?.replaceChildren(...here.childNodes);
    for (const name of ["place", "into", "second", "step"]) {
      const fresh = page.querySelector(`form[data-scan] input[name=${name}]`);
      if (fresh) for (const old of document.querySelectorAll(`input[name=${name}]`)) old.value = fresh.value;
    }
  };

  const go = async () => {
    if (busy) return;
    busy = true;
    while (line.length) {
      tell(line.length > 1 ? waits.dataset.waiting : "");
      const data = new URLSearchParams(new FormData(form));
      data.set(field.name, line[0]);
      try {
        const answer = await fetch(form.action, { method: "POST", body: data, credentials: "same-origin" });
        const page = new DOMParser().parseFromString(await answer.text(), "text/html");
        const address = new URL(answer.url);
        const next = page.querySelector("form[data-scan]");
        if (next?.getAttribute("action") !== form.getAttribute("action")) { location.assign(address); return; }
        take(page);
        history.replaceState(null, "", address);
        line.shift();
      } catch {
        // Nothing is lost: the codes stay in line until Enter or the next scan tries again.
        tell(waits.dataset.lost);
        busy = false;
        return;
      }
    }
    tell("");
    busy = false;
  };

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const code = field.value.trim();
    field.value = "";
    field.focus();
    if (code) line.push(code);
    go();
  });

  document.addEventListener("keydown", (event) => {
    if (event.key.length !== 1 || event.key === " " || event.ctrlKey || event.altKey || event.metaKey) return;
    if (!event.target.matches("input, select, textarea, summary")) field.focus();
  });
  field.focus();
}
