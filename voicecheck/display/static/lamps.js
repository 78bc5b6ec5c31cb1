// A lamp as it is expected, and as it was called.
"use strict";

const WORDS = { wanted: "", lit: "lit", dark: "DARK", unsure: "which?", "stays-dark": "stays dark" };

export function lookOf(lamp, outcome, which) {
  if (!lamp.lit) return "stays-dark";
  if (lamp.dark) return "dark";
  if (outcome === "satisfactory") return "lit";
  if (outcome === "unsatisfactory" && which) return "unsure";
  return "wanted";
}

// A lamp of a simulated aircraft, as it is.
export function trulyOf(lamp) {
  const plate = lampOf(lamp, lamp.lit ? "lit" : "out");
  if (!lamp.lit) plate.querySelector("small").textContent = "dark";
  return plate;
}

export function lampOf(lamp, look) {
  const plate = document.createElement("li");
  plate.className = "lamp";
  plate.dataset.look = look;
  if (lamp.colour) plate.dataset.colour = lamp.colour;
  const caption = document.createElement("b");
  caption.textContent = lamp.caption;
  const word = document.createElement("small");
  word.textContent = [lamp.colour, WORDS[look]].filter(Boolean).join(", ") || "light";
  plate.append(caption, word);
  return plate;
}
