// A lamp as it is expected, and as it was called.
"use strict";

import { t } from "/static/words.js";

const WORDS = { lit: "lamp-lit", dark: "lamp-dark", unsure: "lamp-which", "stays-dark": "lamp-stays-dark" };

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
  if (!lamp.lit) plate.querySelector("small").textContent = t("lamp-out");
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
  const colour = lamp.colour ? t(`colour-${lamp.colour}`) : "";
  const state = WORDS[look] ? t(WORDS[look]) : "";
  word.textContent = colour && state ? t("lamp-colour", { colour, word: state }) : colour || state || t("lamp-light");
  plate.append(caption, word);
  return plate;
}
