// The words of the page, in the language of the session. The first ones stand in the page itself.
"use strict";
const texts = JSON.parse(document.body.dataset.texts);

export function t(key, slots = {}) {
  return (texts[key] ?? key).replace(/\{(\w+)\}/g, (_, name) => String(slots[name] ?? ""));
}

export function joined(parts) {
  return parts.join(t("comma"));
}

// A session in another language has begun: true where anything is said otherwise now.
export function learn(fresh) {
  if (Object.keys(fresh).every((key) => texts[key] === fresh[key])) return false;
  Object.assign(texts, fresh);
  document.documentElement.lang = t("lang");
  for (const node of document.querySelectorAll("[data-text]")) node.textContent = t(node.dataset.text);
  for (const node of document.querySelectorAll("[data-label]")) node.setAttribute("aria-label", t(node.dataset.label));
  const theme = document.getElementById("theme");
  if (theme) Object.assign(theme.dataset, { day: t("page-day"), night: t("page-night") });
  return true;
}
