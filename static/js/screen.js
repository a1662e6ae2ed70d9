/* A screen that nobody is at goes blank: the page stays as it is, with what was typed in it, under a cover that asks for
   the password. The program measures the same time by itself and answers nothing then; this only makes it seen, and tells
   the program while somebody types for long without sending anything. */
(function () {
  "use strict";
  const kept = document.getElementById("blank-page"), soon = document.getElementById("going-blank");
  if (!kept) return;
  const cover = kept.content.querySelector("dialog"); // a part of the page only while the screen is blank
  const form = cover.querySelector("form"), word = cover.querySelector("input[type=password]");
  const faults = cover.querySelector(".faults"), title = document.title;
  const limit = Number(cover.dataset.seconds) * 1000, warned = Math.min(20000, limit / 3), telling = limit / 12;
  const tabs = "BroadcastChannel" in window ? new BroadcastChannel("leastways-screen") : null;
  let last = Date.now(), told = last, blank = false, before = null;

  function send(action) {
    const sent = new FormData(form);
    sent.set("action", action);
    if (action !== "unlock") sent.delete(word.name);
    return fetch(form.getAttribute("action"), { method: "POST", body: sent, redirect: "manual", credentials: "same-origin" })
      .then(function (answer) {
        // Signed out meanwhile: the page that asks for name and password.
        if (answer.type === "opaqueredirect" || answer.status === 403) { window.location.reload(); return null; }
        return answer.ok ? answer.json() : null;
      });
  }

  function hide() {
    if (blank) return;
    blank = true;
    before = document.activeElement;
    soon.hidden = true;
    document.documentElement.classList.add("is-blank");
    document.title = cover.dataset.title;
    document.body.append(cover);
    cover.showModal();
    word.value = "";
    word.focus();
  }
  function show() {
    if (!blank) return;
    blank = false;
    last = told = Date.now();
    faults.hidden = true;
    word.value = "";
    document.documentElement.classList.remove("is-blank");
    document.title = title;
    cover.close();
    cover.remove();
    if (before && before.isConnected) before.focus();
  }
  function say(words) {
    faults.querySelector("p").textContent = words;
    faults.hidden = !words;
  }
  function leave() {
    hide();
    send("blank").catch(function () {});
    if (tabs) tabs.postMessage("blank");
  }

  function look() {
    if (blank) return;
    const idle = Date.now() - last;
    if (idle >= limit) return leave();
    soon.hidden = idle < limit - warned;
    if (last > told && Date.now() - told >= telling) tell();
  }
  function tell() {
    told = Date.now();
    if (tabs) tabs.postMessage("awake");
    send("awake").then(function (said) { if (said && !said.open) hide(); }).catch(function () {});
  }
  function somebody() {
    if (blank || Date.now() - last >= limit) return look();
    last = Date.now();
    soon.hidden = true;
  }

  ["pointerdown", "pointermove", "keydown", "input", "wheel", "touchstart", "scroll"].forEach(function (kind) {
    document.addEventListener(kind, somebody, { passive: true, capture: true });
  });
  document.addEventListener("visibilitychange", look);
  window.addEventListener("pageshow", look);
  window.setInterval(look, 1000);
  document.addEventListener("screen-blank", hide);
  if (tabs) {
    tabs.addEventListener("message", function (event) {
      if (event.data === "blank") hide();
      else if (event.data === "open") show();
      else if (!blank) { last = told = Date.now(); soon.hidden = true; } // somebody is at another page of this screen
    });
  }

  cover.addEventListener("cancel", function (event) { event.preventDefault(); });
  cover.addEventListener("close", function () { if (blank) cover.showModal(); });
  form.addEventListener("submit", function (event) {
    event.preventDefault();
    send("unlock").then(function (said) {
      if (!said) { say(cover.dataset.lost); return; }
      if (said.open) { show(); if (tabs) tabs.postMessage("open"); return; }
      say(said.fault);
      word.value = "";
      word.focus();
    }).catch(function () { say(cover.dataset.lost); });
  });
})();
