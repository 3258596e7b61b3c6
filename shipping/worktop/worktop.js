// The worktop's script: the page works without it. It keeps the place, keeps counts that are not recorded yet, and says
// "Not saved" when the server is gone. It asks nobody but the server that the page came from.
"use strict";
(() => {
  const said = document.getElementById("said");
  const main = document.getElementById("main");
  const kept = (name) => "worktop " + name;
  const SETTLE_MS = 950; // a second tap of a wet thumb comes within so long, and must meet nothing
  let timer = 0;
  let settling = 0;
  let lastEntry = -SETTLE_MS;

  function say(text, kind) {
    const undo = document.getElementById("undo");
    if (undo) undo.remove(); // it takes back what was said before
    said.textContent = "";
    said.className = "said " + (kind || "done");
    const [first, rest] = text.split("\n");
    window.setTimeout(() => {
      said.textContent = first;
      if (rest) said.append(Object.assign(document.createElement("small"), { textContent: rest }));
    }, 30);
    window.clearTimeout(timer);
    if (kind !== "lost" && text) timer = window.setTimeout(() => { said.textContent = ""; said.className = "said"; }, 12000 + 60 * text.length); // a long one is read whole
  }

  function settle() {
    lastEntry = performance.now();
    main.classList.remove("settling");
    void main.offsetWidth; // the animation begins anew
    main.classList.add("settling");
    window.clearTimeout(settling);
    settling = window.setTimeout(() => main.classList.remove("settling"), SETTLE_MS);
  }

  function remember(name, value) { try { localStorage.setItem(kept(name), value); } catch { /* not kept, and not needed */ } }
  function remembered(name) { try { return localStorage.getItem(kept(name)); } catch { return null; } }
  function forget(name) { try { localStorage.removeItem(kept(name)); } catch { /* nothing to forget */ } }

  const counts = (form) => [...form.querySelectorAll("input[data-planned]")];
  const isCount = (text) => /^\s*[0-9]{1,7}\s*$/.test(text) && parseInt(text, 10) <= 1000000;
  const packed = (form) => JSON.stringify(counts(form).map((box) => box.value));
  const reckoning = new WeakMap();

  // A count that is none is marked at once, and no promise is shown for it.
  function total(form) {
    const boxes = counts(form);
    boxes.forEach((box) => {
      box.classList.toggle("asplan", box.value.trim() === box.dataset.planned);
      const sum = form.querySelector(`[data-sum="${box.id}"]`);
      if (sum) sum.textContent = isCount(box.value) ? parseInt(box.value, 10) : "?";
    });
    const asPlanned = boxes.every((box) => box.matches(".asplan"));
    boxes.forEach((box) => {
      const mark = form.querySelector(`[data-asplan="${box.id}"]`);
      if (mark) mark.hidden = asPlanned || !box.matches(".asplan");
    });
    form.querySelectorAll("[data-when]").forEach((words) => { words.hidden = (words.dataset.when === "planned") !== asPlanned; });
    boxes.forEach((box) => { if (isCount(box.value)) box.removeAttribute("aria-invalid"); else box.setAttribute("aria-invalid", "true"); });
    form.querySelectorAll(".promise").forEach((told) => told.classList.add("reckoning"));
  }

  function changed(form) {
    total(form);
    remember(form.dataset.strip, packed(form));
    window.clearTimeout(reckoning.get(form));
    reckoning.set(form, window.setTimeout(() => reckon(form), 180));
  }

  async function ask(form, button) {
    const data = new FormData(form);
    if (button && button.name) data.set(button.name, button.value);
    const address = (button && button.getAttribute("formaction")) || form.getAttribute("action");
    const send = () => fetch(address, { method: "POST", body: new URLSearchParams(data), headers: { "X-Card": "1" }, credentials: "same-origin" });
    let answer = await send();
    const fresh = answer.headers.get("X-Token");
    if (answer.status === 403 && fresh) { // the server was started again: the same form, with its new token, once
      document.querySelectorAll("input[name=token]").forEach((box) => { box.value = fresh; });
      data.set("token", fresh);
      answer = await send();
    }
    return answer;
  }

  // Only what depends on the counts is put in: the boxes that are being tapped stay where they are.
  async function reckon(form) {
    const before = packed(form);
    try {
      const answer = await ask(form, form.querySelector("[data-recount]"));
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (before !== packed(form)) return;
      const lines = [...form.querySelectorAll("fieldset.line")];
      const news = [...page.querySelectorAll("fieldset.line")];
      if (lines.length !== news.length) return;
      lines.forEach((line, n) => {
        line.querySelectorAll(".promise").forEach((old) => old.remove());
        news[n].querySelectorAll(".promise").forEach((fresh) => line.append(fresh));
        line.querySelectorAll(".what").forEach((old, m) => { old.replaceWith(news[n].querySelectorAll(".what")[m].cloneNode(true)); });
      });
      const pack = page.querySelector("[data-pack]");
      if (pack) form.querySelector("[data-pack]").className = pack.className;
      const told = form.querySelector(".promise.fails") || form.querySelector(".promise");
      const number = form.closest("[data-card]").querySelector(".num").textContent;
      const brief = told && told.querySelector("[data-brief]");
      if (told) say(number + ": " + (brief || told).textContent.replace(/^\s*[✓!]\s*/, "").trim(), told.matches(".fails") ? "refused" : "done");
    } catch { say("Not saved, and not reckoned: the worktop does not answer. Your counts are kept on this page.", "lost"); }
  }

  // Where the eye and the focus go after an entry: to what was refused, to what is left to do here, or to the next card.
  function goOn(card, form, refused) {
    if (refused) {
      const wrong = card.querySelector("[aria-invalid=true]") || (form.matches(".send") && card.querySelector("input[name=item]")) || card.querySelector("h2, h3");
      wrong.focus({ preventScroll: true });
      if (wrong.select) wrong.select();
      card.scrollIntoView({ block: "nearest" });
      return;
    }
    const here = card.querySelector("[data-next]");
    const isDone = card.matches(".strip.sent") && form.matches(".send");
    const open = [...document.querySelectorAll("article.strip.planned, article.strip.packed")];
    const after = open.find((one) => card.compareDocumentPosition(one) & Node.DOCUMENT_POSITION_FOLLOWING) || open[0];
    const row = document.querySelector(".rows a");
    if (isDone && !after && row) { window.location.assign(row.href); return; }
    const next = isDone && after ? after : card;
    (next === card && here ? here : next.querySelector("h2, h3")).focus({ preventScroll: true });
    if (card.matches(".strip")) next.scrollIntoView({ block: "start" });
    else next.scrollIntoView({ block: "nearest" });
  }

  async function submit(form, button) {
    const card = form.closest("[data-card]");
    if (form.dataset.busy) return;
    form.dataset.busy = "1";
    if (form.dataset.strip) remember(form.dataset.strip, packed(form));
    try {
      const answer = await ask(form, button);
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.querySelector("[data-card]");
      const words = decodeURIComponent(answer.headers.get("X-Said") || "");
      if (answer.redirected && !fresh) { window.location.assign(answer.url); return; }
      if (!fresh) {
        const why = page.querySelector("main [role=alert], main .lead, main .note");
        say("Not recorded. " + (why ? why.textContent.trim() : "Load the page again."), "refused");
        return;
      }
      if (answer.ok && form.dataset.strip) forget(form.dataset.strip);
      const seen = answer.headers.get("X-Seen");
      if (seen) document.body.dataset.seen = seen;
      card.replaceWith(fresh);
      page.querySelectorAll("[data-part]").forEach((part) => {
        const old = document.querySelector(`[data-part="${part.dataset.part}"]`);
        if (old) old.replaceWith(part);
      });
      restore(fresh);
      settle();
      goOn(fresh, form, !answer.ok);
      say(words, answer.ok ? "done" : "refused");
    } catch {
      say("Not saved: the worktop does not answer. Nothing is lost on this page; start it again and tap once more.", "lost");
    } finally { delete form.dataset.busy; }
  }

  // Counts typed before the page was closed or the server stopped are put back, as long as the same plan is kept.
  function restore(place) {
    place.querySelectorAll("form[data-strip]").forEach((form) => {
      const boxes = counts(form);
      let values;
      try { values = JSON.parse(remembered(form.dataset.strip) || "[]"); } catch { values = []; }
      if (!Array.isArray(values) || values.length !== boxes.length || boxes.some((box) => box.value !== box.dataset.planned)) return;
      if (boxes.every((box, n) => box.value === values[n]) || !values.every((value) => typeof value === "string" && value.length < 25)) return;
      boxes.forEach((box, n) => { box.value = values[n]; });
      total(form);
      reckon(form);
    });
  }

  document.querySelectorAll("[data-copy]").forEach((button) => {
    button.hidden = false;
    button.addEventListener("click", () => {
      document.getElementById(button.dataset.copy).select();
      say(document.execCommand("copy") ? "The text is copied." : "Not copied: select the text and copy it.", "done"); // works without https too
    });
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-step]");
    if (!button) return;
    event.preventDefault();
    const box = document.getElementById(button.dataset.of);
    box.value = Math.max(0, (parseInt(box.value, 10) || 0) + parseInt(button.dataset.step, 10));
    changed(button.form);
  });
  document.addEventListener("input", (event) => { if (event.target.matches("input[data-planned]")) changed(event.target.form); });
  document.addEventListener("keydown", (event) => { // a key held down is one press
    if (event.key === "Enter" && event.repeat) event.preventDefault();
  });
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.method !== "post" || !form.closest("[data-card]")) return;
    event.preventDefault();
    const typed = [...form.querySelectorAll("input:not([type=hidden]):not([data-planned])")].some((box) => box.value !== box.defaultValue);
    if (performance.now() - lastEntry < SETTLE_MS && !typed) return;
    submit(form, event.submitter);
  });
  document.addEventListener("visibilitychange", async () => {
    if (document.visibilityState !== "visible" || !document.body.dataset.seen) return;
    try {
      const now = await (await fetch("/mark", { credentials: "same-origin" })).text();
      if (now !== document.body.dataset.seen) say("Something was recorded on another page meanwhile. Load this page again to see it.", "refused");
    } catch { say("The worktop does not answer. What is on this page is not lost; start it again.", "lost"); }
  });
  // What is typed into a row is kept in this tab, until it is written or left on purpose.
  document.querySelectorAll("form[data-draft]").forEach((form) => {
    const place = kept("draft " + window.location.pathname + window.location.search);
    const boxes = [...form.querySelectorAll("input:not([type=hidden]):not([type=checkbox]), textarea, select")].filter((box) => box.name);
    const first = boxes.map((box) => box.value);
    const drop = () => { try { sessionStorage.removeItem(place); } catch { /* nothing was kept */ } };
    try {
      const typed = form.dataset.draft === "new" ? JSON.parse(sessionStorage.getItem(place) || "{}") : {};
      boxes.forEach((box) => { if (box.name in typed) box.value = typed[box.name]; });
    } catch { drop(); }
    form.addEventListener("input", () => {
      const changed = boxes.filter((box, at) => box.value !== first[at]).map((box) => [box.name, box.value]);
      try { sessionStorage.setItem(place, JSON.stringify(Object.fromEntries(changed))); } catch { /* not kept */ }
    });
    form.addEventListener("submit", drop);
    form.querySelectorAll("a.button.quiet").forEach((back) => back.addEventListener("click", drop));
  });
  restore(document);
  if (document.querySelector("[data-again]")) { // a tap goes first: it is not undone by loading this page again
    const again = window.setTimeout(() => window.location.reload(), 1200);
    document.addEventListener("pointerdown", () => window.clearTimeout(again), { capture: true, once: true });
    document.addEventListener("keydown", () => window.clearTimeout(again), { capture: true, once: true });
  }
})();
