// A click plays what was said; the words light up while they are spoken. Remarks are appended.
"use strict";
import { t } from "/static/words.js";

const BEFORE = 0.6; // seconds of sound before the words, so that a clipped beginning is heard
const AFTER = 0.6;
const audio = document.getElementById("audio");
const strip = document.getElementById("words");
const cursor = document.getElementById("cursor");
const spans = [...document.querySelectorAll("#told tr[data-from]")].map((row) => ({
  from: Number(row.dataset.from), to: Number(row.dataset.to), words: row.dataset.words, row,
}));
const seconds = Math.max(1, ...spans.map((span) => span.to));
let clip = null;

function play(from, to) {
  clip = { from: Math.max(0, from - BEFORE), to: Math.min(to + AFTER, from + 55) };
  const length = clip.to - clip.from;
  strip.replaceChildren(...spans.filter((s) => s.to > clip.from && s.from < clip.to).map((span) => {
    const mark = document.createElement("span");
    mark.textContent = span.words;
    mark.style.marginLeft = `${Math.max(0, (span.from - clip.from) / length * 100)}%`;
    mark.style.width = `${Math.max(2, (Math.min(span.to, clip.to) - Math.max(span.from, clip.from)) / length * 100)}%`;
    mark.dataset.from = span.from;
    mark.dataset.to = span.to;
    return mark;
  }));
  audio.src = `${location.pathname}/sound?from=${clip.from.toFixed(3)}&to=${clip.to.toFixed(3)}`;
  audio.play().catch(() => { /* the controls are there */ });
}

function follow() {
  if (!clip) return;
  const at = clip.from + audio.currentTime;
  for (const mark of strip.children) {
    const on = at >= Number(mark.dataset.from) && at <= Number(mark.dataset.to);
    mark.toggleAttribute("data-on", on);
  }
  const timeline = document.querySelector("#timeline svg");
  const x = 110 + 890 * at / Number(timeline.dataset.seconds || seconds);
  cursor.setAttribute("visibility", "visible");
  cursor.setAttribute("x1", x);
  cursor.setAttribute("x2", x);
  if (!audio.paused) requestAnimationFrame(follow);
}

audio?.addEventListener("play", follow);
audio?.addEventListener("seeked", follow);
document.addEventListener("click", (event) => {
  const from = event.target.closest?.("[data-from]:is(button, rect, text)");
  if (from && audio && !document.getElementById("player").hidden) {
    play(Number(from.dataset.from), Number(from.dataset.to));
  }
});

for (const form of document.querySelectorAll("form.remark")) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const told = form.querySelector("[role=status]");
    told.textContent = "";
    try {
      const answer = await fetch(`/review/${form.dataset.session}/remark`, {
        method: "POST",
        body: JSON.stringify({
          line: Number(form.dataset.line), text: form.elements.text.value, by: form.elements.by.value || null,
        }),
      });
      const { problem } = await answer.json();
      if (problem) {
        told.textContent = t("remark-not-added", { problem });
      } else {
        location.reload();
      }
    } catch {
      told.textContent = t("remark-no-connection");
    }
  });
}
