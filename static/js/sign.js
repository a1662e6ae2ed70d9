/* The page for signing: drawing with a pen, a finger or a mouse, showing only what an answer asks for, and noting what
   was on the screen. Everything here is a help: without it every field is there, and typing the name always signs. */
(function () {
  "use strict";
  const form = document.querySelector("[data-sign]");
  if (!form) return;
  const WIDE = 1000, HIGH = 300, MOST = 3900, LONGEST = 600000, NEAR = 3;

  function named(name) { return form.elements.namedItem(name); }

  /* What belongs to one answer only is shown with it; what is at fault stays in sight. */
  function answer(name) {
    const found = named(name);
    if (!found) return "";
    if (found.type === "checkbox") return found.checked ? "on" : "";
    return found.value || "";
  }
  function show() {
    form.querySelectorAll("[data-when]").forEach(function (part) {
      const rule = part.dataset.when, cut = rule.indexOf(":");
      const wanted = rule.slice(cut + 1).split("|");
      part.hidden = !wanted.includes(answer(rule.slice(0, cut))) && !part.querySelector(".field-wrong");
    });
  }
  form.addEventListener("change", show);
  show();

  /* The drawn signature: lines of points with times, in a field of 1000 by 300. */
  const field = form.querySelector("[data-draw]"), kept = named("strokes");
  if (field && kept) {
    let strokes = [], started = null, current = null;
    const said = form.querySelector("[data-drawn]");
    try { strokes = JSON.parse(kept.value || "[]"); } catch (error) { strokes = []; }
    if (!Array.isArray(strokes)) strokes = [];
    if (strokes.length) {
      const last = strokes[strokes.length - 1];
      started = performance.now() - last[last.length - 1][2];
    }
    const count = function () { return strokes.reduce(function (sum, one) { return sum + one.length; }, 0); };
    const draw = function () {
      field.querySelectorAll("path").forEach(function (path) { path.remove(); });
      strokes.forEach(function (stroke) {
        const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
        const points = stroke.length > 1 ? stroke : [stroke[0], stroke[0]];
        path.setAttribute("d", points.map(function (p, n) { return (n ? "L" : "M") + p[0] + " " + p[1]; }).join(""));
        field.append(path);
      });
      kept.value = strokes.length ? JSON.stringify(strokes) : "";
      if (said) said.textContent = strokes.length ? said.dataset.some : said.dataset.none;
    };
    const point = function (event) {
      const box = field.getBoundingClientRect();
      if (started === null) started = event.timeStamp;
      const at = function (value, most) { return Math.min(most, Math.max(0, Math.round(value * most))); };
      return [at((event.clientX - box.left) / box.width, WIDE), at((event.clientY - box.top) / box.height, HIGH),
        Math.min(LONGEST, Math.max(0, Math.round(event.timeStamp - started)))];
    };
    field.addEventListener("pointerdown", function (event) {
      if (event.button || count() >= MOST) return;
      event.preventDefault();
      field.setPointerCapture(event.pointerId);
      current = [point(event)];
      strokes.push(current);
      draw();
    });
    field.addEventListener("pointermove", function (event) {
      if (!current || count() >= MOST) return;
      const next = point(event), last = current[current.length - 1];
      if (Math.abs(next[0] - last[0]) < NEAR && Math.abs(next[1] - last[1]) < NEAR) return;
      current.push(next);
      draw();
    });
    ["pointerup", "pointercancel"].forEach(function (kind) {
      field.addEventListener(kind, function () { current = null; });
    });
    form.querySelector("[data-undo]").addEventListener("click", function () { strokes.pop(); draw(); });
    form.querySelector("[data-clear]").addEventListener("click", function () { strokes = []; started = null; draw(); });
    draw();
  }

  /* Which parts of the letter were on the screen, and for how long the page was looked at. */
  const parts = document.querySelectorAll("[data-part]"), seen = new Set();
  let seconds = Number(named("seconds").value) || 0;
  const note = function () {
    named("all_parts").value = parts.length;
    named("seen_parts").value = Math.max(seen.size, Math.min(parts.length, Number(named("seen_parts").value) || 0));
    named("seconds").value = seconds;
  };
  if ("IntersectionObserver" in window) {
    const watch = new IntersectionObserver(function (entries) {
      entries.forEach(function (entry) { if (entry.isIntersecting) seen.add(entry.target); });
      note();
    }, { threshold: 0.6 });
    parts.forEach(function (part) { watch.observe(part); });
  }
  window.setInterval(function () {
    if (document.visibilityState === "visible") { seconds += 1; note(); }
  }, 1000);
  note();
})();
