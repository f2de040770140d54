// A list that grows old is fetched again each minute; what is new takes its place. Focus and scrolling stay
// where they are: while the focus is inside the list nothing is replaced, and a line says that there is news.
// A button stops and starts it. Without this script the page is as it was when it was opened.
const list = document.getElementById("fresh");
const told = document.getElementById("fresh-told");
const stop = document.getElementById("fresh-stop");
if (list && told && stop) {
  const every = Number(list.dataset.seconds || "60") * 1000;
  let going = true;

  const look = async () => {
    if (!going || document.hidden) return;
    try {
      const answer = await fetch(location.href, { credentials: "same-origin" });
      if (!answer.ok) return;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const lead = page.getElementById("fresh-lead");
      if (lead) document.getElementById("fresh-lead")?.replaceChildren(...lead.childNodes);
      const fresh = page.getElementById("fresh");
      if (!fresh || fresh.dataset.state === list.dataset.state) return;
      if (list.contains(document.activeElement)) { told.textContent = told.dataset.news; return; }
      list.replaceChildren(...fresh.childNodes);
      list.dataset.state = fresh.dataset.state;
      told.textContent = told.dataset.taken;
    } catch {
      told.textContent = told.dataset.lost;
    }
  };

  stop.hidden = false;
  stop.addEventListener("click", () => {
    going = !going;
    stop.textContent = going ? stop.dataset.stop : stop.dataset.start;
    stop.setAttribute("aria-pressed", String(!going));
  });
  setInterval(look, every);
}
