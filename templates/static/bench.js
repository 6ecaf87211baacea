/* A plan follows its fields while they are typed. What is shown is what 'Work it out' would show: the form is posted
   as that button posts it, and the parts marked data-outcome are taken from the page that comes back. Fields marked
   data-still change nothing that is shown. */
(function () {
  "use strict";
  const PAUSE = 400, SOON = 500;  // ms after typing; ms until a wait is shown
  const form = document.querySelector("form[data-live]");
  const outcomes = document.querySelectorAll("[data-outcome]");
  const wait = form.appendChild(document.createElement("p"));
  const refused = document.createElement("div");
  const seconds = document.createElement("span");
  let due, ticking, running;

  wait.className = "wait";
  wait.setAttribute("role", "status");
  seconds.setAttribute("aria-hidden", "true");  // said once, not every second
  refused.className = "note";
  refused.setAttribute("aria-live", "polite");
  if (outcomes.length) form.querySelector(".outcome > .body").prepend(refused);

  function startWaiting() {
    const began = performance.now();
    clearInterval(ticking);
    ticking = setInterval(function () {
      const gone = Math.floor((performance.now() - began) / 1000);
      if (!wait.firstChild) wait.append("Working it out", seconds);
      seconds.textContent = gone ? `, ${gone} s` : "";
    }, SOON);
  }

  function stopWaiting() {
    clearInterval(ticking);
    wait.replaceChildren();
  }

  function replace(old, fresh) {
    old.hidden = !fresh;
    if (!fresh || old.innerHTML === fresh.innerHTML) return;
    const held = document.activeElement, caret = [held.selectionStart, held.selectionEnd];
    const typed = Array.from(old.querySelectorAll("[data-still]")).filter(
      (field) => field.value !== field.defaultValue || field.checked !== field.defaultChecked,
    );
    old.replaceChildren(...fresh.childNodes);
    for (const { id, value, checked } of typed) {
      const field = document.getElementById(id);
      if (field) Object.assign(field, { value, checked });
    }
    if (held.isConnected || !held.id) return;
    const again = document.getElementById(held.id);
    if (again) again.focus({ preventScroll: true });
    if (again && caret[0] != null) again.setSelectionRange(...caret);
  }

  function show(page) {
    const held = document.activeElement, at = held.getBoundingClientRect().top;
    for (const note of document.querySelectorAll("main > .note")) note.remove();  // of the page as it was submitted
    for (const old of outcomes) replace(old, page.getElementById(old.id));
    for (const old of form.querySelectorAll(".help[id], .box[id]")) {  // words that go by the unit chosen
      const fresh = page.getElementById(old.id);
      if (fresh) old.textContent = fresh.textContent;
    }
    const said = Array.from(page.querySelectorAll(".refused li, main > .note"), (each) => each.textContent);
    if (!said.length && outcomes[0].hidden) said.push("It could not be worked out. Press ‘Work it out again’ to see why.");
    refused.replaceChildren(...said.map((words) => Object.assign(document.createElement("p"), { textContent: words })));
    if (held.isConnected) scrollBy(0, held.getBoundingClientRect().top - at);
  }

  async function workOut() {
    if (running) running.abort();
    const mine = running = new AbortController();
    const body = new URLSearchParams(new FormData(form));
    body.set("step", "work_out");
    startWaiting();
    let html = "";
    try {
      const answer = await fetch(form.getAttribute("action"), { method: "POST", body, signal: mine.signal });
      html = await answer.text();
    } catch { /* overtaken, or nobody answered */ }
    while (form.matches(":active")) await new Promise((done) => setTimeout(done, 50));  // a button being pressed stays
    if (mine.signal.aborted) return;
    stopWaiting();
    show(new DOMParser().parseFromString(html, "text/html"));
  }

  form.addEventListener("input", function (event) {
    if (!outcomes.length || event.target.matches("[data-still]")) return;
    clearTimeout(due);
    due = setTimeout(workOut, event.target.matches("[type=text]") ? PAUSE : 0);
  });
  form.addEventListener("submit", function () {
    clearTimeout(due);
    if (running) running.abort();
    startWaiting();
  });
  window.addEventListener("pagehide", stopWaiting);
})();
