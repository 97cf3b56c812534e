// What is written down waits in this browser until the book has it, each entry once: it is kept here before it is sent,
// under a key by which the book knows it again, and let go only when the book has answered.
"use strict";
(() => {
  const place = document.getElementById("waiting");
  if (!place || !("indexedDB" in window)) return;
  const [head, said, list, now] = ["h2", "p", "ul", "button"].map((part) => place.querySelector(part));
  const away = document.getElementById("away");
  // Every word comes with the page, in its language; what is known only here is filled in between braces.
  const words = JSON.parse(place.dataset.words ?? "{}");
  const say = (name, values = {}) => (words[name] ?? name).replace(/\{(\w+)\}/g, (place, value) => values[value] ?? place);
  const every = 30000;

  if ("serviceWorker" in navigator) {
    navigator.serviceWorker.register("/sw.js").catch(() => { /* the pages work without it, while the app is there */ });
  }
  if (away && !location.pathname.startsWith("/write")) {
    const asked = document.getElementById("asked");
    asked.querySelector("span").textContent = location.pathname;
    asked.hidden = false;
  }

  // The store.
  const opened = new Promise((resolve, reject) => {
    const request = indexedDB.open("interstice", 1);
    request.onupgradeneeded = () => request.result.createObjectStore("waiting", { keyPath: "key" });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  async function store(mode, act) {
    const transaction = (await opened).transaction("waiting", mode);
    const request = act(transaction.objectStore("waiting"));
    return new Promise((resolve, reject) => {
      transaction.oncomplete = () => resolve(request.result);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  }
  const keep = (entry) => store("readwrite", (all) => all.put(entry));
  const drop = (key) => store("readwrite", (all) => all.delete(key));
  const all = async () => (await store("readonly", (all) => all.getAll())).sort((a, b) => a.at.localeCompare(b.at));

  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  // One entry to the book. Answers what the book said; `null` where the book could not be asked.
  async function send(entry, direct) {
    const fields = new URLSearchParams(entry.fields);
    fields.set("key", entry.key);
    fields.set("book", entry.book);
    // Sent at once, the app's own clock says when it was.
    if (!direct && !fields.get("at")) fields.set("at", entry.at);
    let answer;
    try {
      answer = await fetch("/write/queued", { method: "POST", body: fields });
    } catch {
      return { state: "later", why: say("unreached") };
    }
    try {
      const told = await answer.json();
      if (told.state) return told;
    } catch { /* no answer of ours */ }
    if (answer.status === 401) return { state: "later", why: say("unpaired") };
    if (answer.status === 429) return { state: "later", why: say("busy") };
    return { state: "later", why: say("answered", { status: answer.status }) };
  }

  // All of them, in the order they were written; what the book refuses stays, with its reason.
  let busy = false, last = "";
  async function sendAll() {
    if (busy) return;
    busy = true;
    try {
      let entries = await all();
      if (entries.length === 0) await reach();
      for (const entry of entries) {
        if (entry.state !== "waiting") continue;
        const told = await send(entry, false);
        if (told.state === "later") {
          last = told.why;
          break;
        }
        last = "";
        if (told.state === "written") await drop(entry.key);
        else await keep({ ...entry, state: told.state, why: told.why ?? "", said: told.said ?? "" });
        found(true);
      }
    } finally {
      busy = false;
    }
    await show();
  }

  async function reach() {
    if (!away) return;
    try {
      found((await fetch("/app.webmanifest", { cache: "no-store" })).ok);
    } catch {
      found(false);
    }
  }
  function found(there) {
    if (!away) return;
    away.hidden = there;
    document.getElementById("reached").hidden = !there;
  }

  // What waits, to be looked at and struck out.
  async function show() {
    const entries = await all();
    place.hidden = entries.length === 0;
    const stuck = entries.filter((entry) => entry.state !== "waiting").length;
    const waits = entries.length - stuck;
    const parts = [];
    if (waits) parts.push(waits === 1 ? say("waits") : say("wait", { entries: waits }));
    if (stuck) parts.push(stuck === 1 ? say("stuck") : say("stucks", { entries: stuck }));
    head.textContent = parts.join(", ");
    said.textContent = waits && last ? say("tried", { why: last, clock: clock(new Date()) }) : "";
    now.hidden = waits === 0;
    list.replaceChildren(...entries.map(line));
  }

  function line(entry) {
    const item = document.createElement("li");
    const when = part("span", "when", stamp(entry));
    const what = part("span", "what", entry.shown);
    if (entry.state !== "waiting") what.append(part("span", "why", reason(entry)));
    const tools = part("span", "tools", "");
    if (entry.state === "which-unit") {
      for (const unit of ["mg/dL", "mmol/L"]) {
        const fields = [...entry.fields.filter(([name]) => name !== "unit"), ["unit", unit]];
        tools.append(button(say("was", { unit }), () => again({ ...entry, fields })));
      }
    } else if (entry.state === "another-book") {
      tools.append(button(say("thisBook"), () => again({ ...entry, book: place.dataset.book })));
    } else if (entry.state === "refused") {
      tools.append(button(say("again"), () => again(entry)));
    }
    tools.append(button(say("strike"), async () => {
      await drop(entry.key);
      await show();
    }));
    item.append(when, what, tools);
    return item;
  }
  async function again(entry) {
    await keep({ ...entry, state: "waiting" });
    await sendAll();
  }
  function reason(entry) {
    return ` ${say(entry.state in words ? entry.state : "refused", { said: entry.said, why: entry.why })}`;
  }
  function part(name, kind, text) {
    const element = document.createElement(name);
    element.className = kind;
    element.textContent = text;
    return element;
  }
  function button(text, act) {
    const element = part("button", "quiet", text);
    element.type = "button";
    element.addEventListener("click", act);
    return element;
  }
  function stamp(entry) {
    const typed = new Map(entry.fields).get("at");
    if (typed) return typed.replace("T", " ");
    const at = new Date(entry.at);
    const two = (number) => String(number).padStart(2, "0");
    return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())} ${clock(at)}`;
  }
  function clock(at) {
    return `${String(at.getHours()).padStart(2, "0")}:${String(at.getMinutes()).padStart(2, "0")}`;
  }

  // A form that writes: kept first, then sent at once where that can be.
  for (const form of document.querySelectorAll("form[action='/write/new']")) {
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const fields = [...new FormData(form)].filter(([, value]) => value !== "");
      const entry = {
        key: newKey(), book: place.dataset.book, at: new Date().toISOString(), fields, state: "waiting",
        shown: told(form, new Map(fields)),
      };
      try {
        await keep(entry);
      } catch {
        form.submit();
        return;
      }
      const answer = away ? { state: "later", why: say("unreached") } : await send(entry, true);
      if (answer.state === "written") {
        await drop(entry.key);
        location.assign(`/write?what=${encodeURIComponent(new Map(fields).get("what"))}&done=${answer.change}`);
      } else if (answer.state === "later") {
        last = answer.why;
        form.reset();
        form.closest("details")?.removeAttribute("open");
        await show();
        place.scrollIntoView({ block: "center" });
        if (away) sendAll();
      } else {
        // The app is there and has something to ask or to say: it does so on a page of its own.
        await drop(entry.key);
        form.submit();
      }
    });
  }
  function told(form, fields) {
    if (form.dataset.told) return form.dataset.told;
    const name = form.dataset.name ?? fields.get("what");
    const unit = form.dataset.unit ? ` ${form.dataset.unit}` : "";
    const amount = fields.has("amount") ? ` ${fields.get("amount")}${unit}` : "";
    const insulin = form.querySelector("[name=insulin]:checked")?.dataset.told ?? fields.get("insulin");
    return [`${name}${amount}`, insulin, fields.get("words")].filter(Boolean).join(", ");
  }

  now.addEventListener("click", sendAll);
  addEventListener("online", sendAll);
  document.addEventListener("visibilitychange", () => document.hidden || sendAll());
  setInterval(() => document.hidden || sendAll(), every);
  show().then(sendAll);
})();
