// The worktop's script: the page works without it. It keeps the place, keeps counts that are not recorded yet, and says
// "Not saved" when the server is gone. It asks nobody but the server that the page came from.
"use strict";
(() => {
  const said = document.getElementById("said");
  const kept = (name) => "worktop " + name;
  let timer = 0;

  function say(text, isLost) {
    said.textContent = "";
    said.classList.toggle("lost", Boolean(isLost));
    window.setTimeout(() => { said.textContent = text; }, 30);
    window.clearTimeout(timer);
    if (!isLost && text) timer = window.setTimeout(() => { said.textContent = ""; }, 9000);
  }

  function remember(name, value) { try { localStorage.setItem(kept(name), value); } catch { /* not kept, and not needed */ } }
  function remembered(name) { try { return localStorage.getItem(kept(name)); } catch { return null; } }
  function forget(name) { try { localStorage.removeItem(kept(name)); } catch { /* nothing to forget */ } }

  const counts = (form) => [...form.querySelectorAll("input[data-planned]")];
  const reckoning = new WeakMap();

  function total(form) {
    const place = form.querySelector("[data-total]");
    if (place) place.textContent = counts(form).reduce((sum, box) => sum + (parseInt(box.value, 10) || 0), 0);
  }

  function changed(form) {
    total(form);
    remember(form.dataset.strip, counts(form).map((box) => box.value).join("."));
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
    const before = counts(form).map((box) => box.value).join(".");
    try {
      const answer = await ask(form, form.querySelector("[data-recount]"));
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (before !== counts(form).map((box) => box.value).join(".")) return;
      const lines = [...form.querySelectorAll("fieldset.line")];
      const news = [...page.querySelectorAll("fieldset.line")];
      if (lines.length !== news.length) return;
      lines.forEach((line, n) => {
        line.querySelectorAll(".promise").forEach((old) => old.remove());
        news[n].querySelectorAll(".promise").forEach((fresh) => line.append(fresh));
        line.querySelectorAll(".what").forEach((old, m) => { old.replaceWith(news[n].querySelectorAll(".what")[m].cloneNode(true)); });
      });
      const told = form.querySelector(".promise.fails") || form.querySelector(".promise");
      if (told) say(told.textContent.replace(/^\s*[✓!]\s*/, "").trim());
    } catch { say("Not saved, and not reckoned: the worktop does not answer. Your counts are kept on this page.", true); }
  }

  async function submit(form, button) {
    const card = form.closest("[data-card]");
    if (form.dataset.busy) return;
    form.dataset.busy = "1";
    if (form.dataset.strip) remember(form.dataset.strip, counts(form).map((box) => box.value).join("."));
    try {
      const answer = await ask(form, button);
      const text = await answer.text();
      const fresh = new DOMParser().parseFromString(text, "text/html").querySelector("[data-card]");
      const words = decodeURIComponent(answer.headers.get("X-Said") || "");
      if (!fresh) { say(answer.ok ? words : "Not recorded: the worktop refused it. Load the page again.", !answer.ok); return; }
      if (answer.ok && form.dataset.strip) forget(form.dataset.strip);
      const seen = answer.headers.get("X-Seen");
      if (seen) document.body.dataset.seen = seen;
      card.replaceWith(fresh);
      restore(fresh);
      const next = fresh.querySelector("[role=alert]") ? fresh.querySelector("h2, h3") : fresh.querySelector("[data-next]") || fresh.querySelector("h2, h3");
      if (next) next.focus({ preventScroll: true });
      fresh.scrollIntoView({ block: "nearest" });
      say(words);
    } catch {
      say("Not saved: the worktop does not answer. Nothing is lost on this page; start it again and tap once more.", true);
    } finally { delete form.dataset.busy; }
  }

  // Counts typed before the page was closed or the server stopped are put back, as long as the same plan is kept.
  function restore(place) {
    place.querySelectorAll("form[data-strip]").forEach((form) => {
      const boxes = counts(form);
      const values = (remembered(form.dataset.strip) || "none").split(".");
      if (values.length !== boxes.length || boxes.some((box) => box.value !== box.dataset.planned)) return;
      if (boxes.every((box, n) => box.value === values[n]) || !values.every((value) => /^[0-9]{1,6}$/.test(value))) return;
      boxes.forEach((box, n) => { box.value = values[n]; });
      total(form);
      reckon(form);
    });
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-step]");
    if (!button) return;
    event.preventDefault();
    const box = document.getElementById(button.dataset.of);
    box.value = Math.max(0, (parseInt(box.value, 10) || 0) + parseInt(button.dataset.step, 10));
    changed(button.form);
  });
  document.addEventListener("input", (event) => { if (event.target.matches("input[data-planned]")) changed(event.target.form); });
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.method !== "post" || !form.closest("[data-card]")) return;
    event.preventDefault();
    submit(form, event.submitter);
  });
  document.addEventListener("visibilitychange", async () => {
    if (document.visibilityState !== "visible" || !document.body.dataset.seen) return;
    try {
      const now = await (await fetch("/mark", { credentials: "same-origin" })).text();
      if (now !== document.body.dataset.seen) say("Something was recorded on another page meanwhile. Load this page again to see it.");
    } catch { say("The worktop does not answer. What is on this page is not lost; start it again.", true); }
  });
  restore(document);
  if (document.querySelector("[data-again]")) { // a tap goes first: it is not undone by loading this page again
    const again = window.setTimeout(() => window.location.reload(), 1200);
    document.addEventListener("pointerdown", () => window.clearTimeout(again), { capture: true, once: true });
    document.addEventListener("keydown", () => window.clearTimeout(again), { capture: true, once: true });
  }
})();
