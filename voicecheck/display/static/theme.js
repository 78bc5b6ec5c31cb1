// Day or night: the viewer's own choice, else the device's.
"use strict";
(() => {
  const root = document.documentElement;
  const stored = () => {
    try { return localStorage.getItem("theme"); } catch { return null; }
  };
  const device = matchMedia("(prefers-color-scheme: dark)");
  const apply = () => {
    root.dataset.theme = stored() ?? (device.matches ? "night" : "day");
    const button = document.getElementById("theme");
    if (button) button.textContent = root.dataset.theme === "night" ? button.dataset.day : button.dataset.night;
  };
  apply();
  device.addEventListener("change", apply);
  document.addEventListener("DOMContentLoaded", () => {
    apply();
    document.getElementById("theme")?.addEventListener("click", () => {
      const next = root.dataset.theme === "night" ? "day" : "night";
      try { localStorage.setItem("theme", next); } catch { /* the choice then lasts a page */ }
      root.dataset.theme = next;
      apply();
      root.dataset.theme = next;
    });
  });
})();
