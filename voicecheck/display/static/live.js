// One picture at a time from the session; touches and keys back, with the picture's marks.
"use strict";
import { lampOf, lookOf, trulyOf } from "/static/lamps.js";
import { joined, learn, t } from "/static/words.js";

const $ = (id) => document.getElementById(id);
const SETTLE = 600; // ms in which a hand may still be aiming at what was there before
const SILENT = 3500; // ms without a word from the session: this picture is old
const MORE = "more";
const PANES = ["answer", "here", "go-to", "power", "say"];

let picture = null; // the newest one
let state = null;
let offset = 0; // stream seconds minus this page's clock
let lastWord = -Infinity; // when anything came last
let over = false; // the session ended well
let socket = null;
let retry = 250;
let pane = null; // chosen by hand, until the ground moves
let leaf = 0; // which of several leaves of callouts is shown
let leafFor = "";
let picked = null; // item chosen by hand
let settled = { ground: 0, change: 0 };
let typed = "";
let typedTimer = 0;

const now = () => performance.now() / 1000;

// --- the line to the session

function connect() {
  socket = new WebSocket(`ws://${location.host}/live`);
  socket.onmessage = (event) => take(JSON.parse(event.data));
  socket.onclose = () => {
    if (over) return void tellOver();
    setTimeout(connect, retry);
    retry = Math.min(retry * 2, 4000);
    age();
  };
}

function take(message) {
  lastWord = performance.now();
  retry = 250;
  if (message.kind === "words") {
    if (learn(message.texts)) afresh();
  } else if (message.kind === "picture") {
    show(message);
    document.documentElement.dataset.seq = message.seq;
  } else if (message.kind === "level") {
    offset = message.now - now();
    level(message);
  } else if (message.kind === "entry") {
    if (!message.taken) tell(t("not-taken"));
  }
  age();
}

function age() {
  const quiet = performance.now() - lastWord;
  const open = socket?.readyState === WebSocket.OPEN;
  const stale = !over && (!open || quiet > SILENT);
  document.body.classList.toggle("stale", stale && picture !== null);
  $("lost").hidden = !stale || picture === null;
  if (stale && picture) {
    put($("lost"), t("stale", { seconds: Math.max(1, Math.round(quiet / 1000)) }));
  }
}

// Everything is drawn again: its words have changed.
function afresh() {
  for (const id of ["cockpit-lamps", "items", "power", "positions", "findings", "panes", "calls"]) {
    $(id).replaceChildren();
  }
  put($("ear"), t("ear-none"));
  if (picture) show(picture);
}

function tellOver() {
  $("lost").hidden = false;
  put($("lost"), t("over"));
}

// --- writing only what changed

function put(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

function fill(list, entries, keyOf, make) {
  const old = new Map([...list.children].map((child) => [child.dataset.key, child]));
  const fresh = entries.map((entry) => {
    const key = keyOf(entry);
    const known = old.get(key);
    if (known) return known;
    const node = make(entry);
    node.dataset.key = key;
    return node;
  });
  if (fresh.length === list.children.length && fresh.every((n, i) => n === list.children[i])) return;
  const focused = document.activeElement?.dataset?.callout;
  list.replaceChildren(...fresh);
  if (focused) list.querySelector(`[data-callout="${CSS.escape(focused)}"]`)?.focus();
}

function make(tag, text, name) {
  const node = document.createElement(tag);
  if (text !== undefined) node.textContent = text;
  if (name) node.className = name;
  return node;
}

// --- the picture

function show(fresh) {
  const before = state;
  picture = fresh;
  state = fresh.state;
  offset = fresh.now - now();
  if (before?.ground !== state.ground) {
    pane = null;
    picked = null;
    typed = "";
    settle("ground");
  }
  if (before?.change !== state.change) settle("change");
  over = state.phase === "finished";
  put($("caution"), fresh.caution);
  put($("registration"), state.registration ?? "voicecheck");
  put($("title"), state.title ?? "");
  put($("phase"), t(`phase-${state.phase}`));
  cockpit(fresh.cockpit);
  place();
  items();
  heard(fresh);
  power();
  left();
  findings();
  calls();
  ring();
}

// What a simulated aircraft shows: all its lamps, each always in the same place.
function cockpit(panel) {
  $("cockpit").hidden = !panel || over;
  document.body.classList.toggle("rehearsing", Boolean(panel));
  if (!panel) return;
  fill($("cockpit-lamps"), panel.lamps, JSON.stringify, trulyOf);
  const buses = Object.entries(panel.buses).map(([bus, live]) => t(live ? "bus-live" : "bus-dead", { bus }));
  const felt = [
    ...panel.sounds.map((sound) => t("sounds", { sound })), ...panel.felt.map((sound) => t("felt", { sound })),
  ];
  const done = panel.done ? [panel.done] : [];
  put($("cockpit-rest"), [...buses, ...(felt.length ? felt : [t("silent")]), ...panel.gauges, ...done].join("; "));
}

function place() {
  const here = state.position;
  const held = state.phase === "held";
  let count = here ? t("position-of", { number: here.number, all: here.of }) : t("no-position");
  let name = here?.name ?? (state.next ? state.next.say : t("waiting"));
  let remark = here?.caution ? t("caution-of", { text: here.caution }) : "";
  const silent = (state.power ?? []).filter((bus) => bus.state === null && !bus.asked);
  if (!here && silent.length) {
    count = t("first");
    name = t("call-power");
    remark = joined(silent.map((bus) => bus.label));
  } else if (!here && state.next) {
    count = t("next");
  }
  if (held) {
    remark = t("resume-by");
  } else if (state.phase === "finished") {
    count = t(state.complete ? "covered" : "not-complete");
    name = t("session-ended");
    remark = state.findings?.length ? t("advisory-findings", { n: state.findings.length }) : t("advisory");
  } else if (here && current() === null && state.next) {
    remark = t("nothing-left", { say: state.next.say });
  } else if (here && current() === null && state.phase === "at-rest") {
    remark = t("complete-by");
  }
  put($("count"), count);
  put($("name"), name);
  put($("remark"), remark);
  $("review").hidden = !picture.review;
  if (picture.review) $("review").href = `/review/${encodeURIComponent(picture.review)}`;
}

// The item a glance should land on: chosen by hand, asked about, else the first one open.
function current() {
  const list = state?.items ?? [];
  const chosen = list.find((item) => item.id === picked);
  if (chosen) return chosen;
  return list.find((item) => item.which_dark || item.read_back) ?? list.find(isOpen) ?? null;
}

function isOpen(item) {
  const counted = item.outcome === "satisfactory" || item.outcome === "unsatisfactory";
  return !counted && !item.blocked && !item.timed;
}

function standing(item) {
  if (item.which_dark) return ["?", t("item-which-dark")];
  if (item.read_back) return ["…", t("item-read-back")];
  if (item.outcome === "satisfactory") return ["✓", t("item-good")];
  if (item.outcome === "unsatisfactory") return ["✗", t("item-finding", { called: item.called })];
  if (item.outcome === "void") return ["↺", t("item-void")];
  if (item.blocked) return ["–", t("item-blocked")];
  const lacks = Object.entries(item.lacks).map(([bus, want]) => t("bus-state", { bus, state: t(want) }));
  if (lacks.length) return ["○", t("item-needs", { needs: joined(lacks) })];
  if (item.timed) return ["◷", t("item-timed")];
  if (item.waits.length) return ["·", t("item-then")];
  return ["○", t("item-open")];
}

// What stands at the end: findings, then what nobody called.
function result() {
  const rows = state.findings.slice(0, 7).map((one) => ["✗", t("finding-of", one), t("result-finding")]);
  if (state.findings.length > 7) rows.push(["✗", t("result-more", { n: state.findings.length - 7 }), t("result-finding")]);
  const open = state.positions.filter((position) => position.left > 0).map((p) => p.name);
  if (open.length) rows.push(["○", joined(open), t("result-untested")]);
  fill($("items"), rows, JSON.stringify, ([sign, text, word]) => {
    const row = make("li", undefined, "item");
    const line = make("p", undefined, "pick");
    line.append(make("span", sign, "sign"), make("span", text), make("span", word, "word"));
    row.append(line);
    return row;
  });
}

function items() {
  if (over) return void result();
  const at = current();
  const list = state.items ?? [];
  const drawn = (item) => item.lamps.length > 0 && !picture.cockpit; // as they are is enough
  const plates = list.filter(drawn).length;
  $("items").classList.toggle("crowded", list.length + plates > 5);
  fill($("items"), list, (item) => JSON.stringify([item, item.id === at?.id, drawn(item)]), (item) => {
    const row = make("li", undefined, item.id === at?.id ? "item current" : "item");
    row.dataset.item = item.id;
    if (item.outcome) row.dataset.outcome = item.outcome;
    const pick = make("button", undefined, "pick");
    pick.type = "button";
    pick.dataset.callout = `item ${item.id}`;
    if (item.id === at?.id) pick.setAttribute("aria-current", "true");
    const [sign, word] = standing(item);
    const mark = make("span", sign, "sign");
    mark.setAttribute("aria-hidden", "true");
    pick.append(mark, make("span", item.expected), make("span", word, "word"));
    pick.addEventListener("click", () => {
      picked = item.id;
      pane = "here";
      items();
      calls();
    });
    row.append(pick);
    if (drawn(item)) {
      const lamps = make("ul", undefined, "lamps");
      const named = item.lamps.some((lamp) => lamp.dark);
      const look = (lamp) => lookOf(lamp, named ? "satisfactory" : item.outcome, true);
      lamps.append(...item.lamps.map((lamp) => lampOf(lamp, look(lamp))));
      row.append(lamps);
    }
    return row;
  });
  $("here").classList.toggle("long", $("here").scrollHeight > $("here").clientHeight + 1);
  if ($("here").classList.contains("long")) {
    $("items").querySelector(".current")?.scrollIntoView({ block: "center" });
  }
}

function heard(fresh) {
  const last = fresh.heard;
  const words = last ? last.words || t("heard-not") : t("heard-nothing");
  put($("heard-words"), words);
  $("heard").dataset.how = last?.how ?? "";
  put($("heard-how"), last ? (last.how === "refused" ? t("heard-refused-why", { why: last.reason }) : t(`heard-${last.how}`)) : "");
  const said = [...fresh.lines].reverse().find((line) => line.who === "voice" || line.who === "note");
  put($("said"), said ? said.text : "");
  $("said").classList.toggle("warning", Boolean(said?.warning));
}

function power() {
  const ran = Math.floor((picture.now - (state.timed_from ?? 0)) / 60);
  const stamped = (bus) => JSON.stringify([bus, bus.minutes ? ran : 0]);
  fill($("power"), state.power ?? [], stamped, (bus) => {
    const row = make("li");
    const word = bus.asked ? t("bus-asked") : t(bus.state === null ? "bus-not-called" : `bus-${bus.state}`);
    const timed = bus.minutes && state.timed_from !== null;
    const told = timed ? t("bus-timed", { state: word, ran: Math.max(0, ran), most: bus.minutes }) : word;
    row.append(make("span", bus.label), make("b", told));
    if (bus.wanted) {
      const met = bus.wanted === bus.state;
      const word_ = `${met ? "✓" : "✗"} ${t("bus-needs", { state: t(`bus-${bus.wanted}`) })}`;
      row.append(make("span", word_, met ? "" : "unmet"));
    }
    return row;
  });
}

function left() {
  const list = state.positions ?? [];
  const open = list.filter((position) => position.left > 0);
  put($("left"), list.length ? t("positions-left", { n: open.length, all: list.length }) : "");
  const here = state.position?.id;
  const across = Math.ceil(list.length / Math.ceil(list.length / 12));
  $("positions").style.gridTemplateColumns = `repeat(${across || 1}, minmax(0, 1fr))`;
  fill($("positions"), list.map((p, i) => [p, i, p.id === here]), JSON.stringify, ([p, i, isHere]) => {
    const sign = p.findings ? "✗" : p.left ? (p.left < p.items ? "…" : "○") : "✓";
    const row = make("li", String(i + 1));
    const word = p.findings ? t("position-findings") : p.left ? t("position-left", { n: p.left }) : t("position-covered");
    row.title = t("finding-of", { position: p.name, what: word });
    const mark = make("small", sign);
    mark.setAttribute("aria-hidden", "true");
    row.append(mark);
    if (isHere) row.setAttribute("aria-current", "step");
    return row;
  });
}

function findings() {
  const list = state.findings ?? [];
  put($("finding-count"), t(["findings-none-yet", "findings-of-one"][list.length] ?? "findings-of-many", { n: list.length }));
  fill($("findings"), list.slice(-2), JSON.stringify, (one) => {
    const row = make("li", one.what);
    row.title = t("finding-title", one);
    return row;
  });
}

// --- what can be called

function paneOf(offer) {
  if (offer.callout === "command:affirm") return "answer";
  // Without a question it takes the last call back, as a correction does.
  if (offer.callout === "command:negative" && state.question) return "answer";
  if (offer.group === "reason") return "answer";
  if (offer.group === "select" || offer.group === "selector") return "go-to";
  if (offer.group === "power") return "power";
  return offer.group === "command" || offer.group.endsWith(".other") ? "say" : "here";
}

function offersIn(name) {
  const all = picture?.offers ?? [];
  const found = all.filter((offer) => paneOf(offer) === name);
  if (name !== "here") return found;
  const at = current();
  const running = (state.windows ?? []).map((w) => w.item);
  if (picked === null && running.length) {
    const timed = found.filter((offer) => running.includes(offer.group));
    if (timed.length) return timed.concat(found.filter((o) => o.group === at?.id && !running.includes(o.group)));
  }
  return at ? found.filter((offer) => offer.group === at.id) : found.filter((o) => running.includes(o.group));
}

function bestPane(names) {
  if (names.includes("answer")) return "answer";
  if (state.phase === "held") return "say";
  if ((state.windows ?? []).length && offersIn("here").length) return "here";
  if (state.phase === "between" && (state.power ?? []).some((bus) => bus.state === null)) return "power";
  if (current() && offersIn("here").length) return "here";
  if (state.phase === "at-rest" && !state.next) return "say";
  return names.includes("go-to") ? "go-to" : names[0];
}

function calls() {
  $("entry").hidden = over || picture.offers.length === 0;
  const names = PANES.filter((name) => offersIn(name).length > 0);
  if (!names.includes(pane)) pane = null;
  const shown = pane ?? bestPane(names);
  fill($("panes"), names.map((name) => [name, name === shown]), JSON.stringify, ([name, on]) => {
    const button = make("button", t(`pane-${name}`));
    button.type = "button";
    button.dataset.callout = `pane ${name}`;
    button.setAttribute("aria-pressed", String(on));
    button.addEventListener("click", () => {
      pane = name;
      calls();
    });
    return button;
  });
  const asked = state.question;
  let text = "";
  if (asked?.ask === "claims") text = t("ask-claims", { words: joined(asked.words) });
  else if (asked?.ask === "complete") text = t("ask-complete");
  else if (asked?.ask === "abandon") text = t("ask-abandon");
  else if (state.phase === "held") text = state.held ? t("ask-held-why", { why: state.held }) : t("ask-held");
  if (state.lost?.length) text = t("ask-lost-and", { parts: joined(state.lost.map((part) => t(`part-${part}`))), asked: text });
  put($("asked"), text);
  let offers = shown ? offersIn(shown) : [];
  $("calls").className = offers.length < 3 ? "answers two" : offers.length < 5 ? "answers"
    : offers.length <= 8 ? "few" : "";
  if (leafFor !== `${state.ground} ${shown}`) [leaf, leafFor] = [0, `${state.ground} ${shown}`];
  offers = leafOf(offers);
  fill($("calls"), offers, (offer) => offer.keys + offer.callout, (offer) => {
    if (offer.callout === MORE) {
      const more = make("button", offer.words, "call");
      more.type = "button";
      more.addEventListener("click", () => {
        leaf += 1;
        calls();
      });
      return more;
    }
    const button = make("button", undefined, "call");
    button.type = "button";
    button.dataset.callout = offer.callout;
    const keys = make("kbd", offer.keys);
    button.append(keys, document.createTextNode(` ${offer.words}`));
    button.addEventListener("click", () => enter(offer));
    return button;
  });
  arm();
}

// As many as there is room for, and a way to the rest.
function leafOf(offers) {
  const style = getComputedStyle($("calls"));
  const gap = parseFloat(style.rowGap) || 0;
  const rows = Math.floor((parseFloat(style.height) + gap) / (50 + gap));
  const room = rows * style.gridTemplateColumns.split(" ").length;
  if ($("calls").className !== "" || !(room > 1) || offers.length <= room) return offers;
  const leaves = Math.ceil(offers.length / (room - 1));
  const from = (leaf % leaves) * (room - 1);
  const words = t("more", { n: (leaf % leaves) + 1, all: leaves });
  return offers.slice(from, from + room - 1).concat({ callout: MORE, keys: String(leaf), words });
}

function settle(what) {
  settled[what] = performance.now() + (what === "ground" ? SETTLE : SETTLE / 2);
  setTimeout(arm, SETTLE + 10);
}

function ready(callout) {
  const fixed = /^(command|reason):/.test(callout);
  return performance.now() >= Math.max(settled.ground, fixed ? settled.change : 0);
}

function arm() {
  for (const button of $("calls").children) {
    const on = ready(button.dataset.callout);
    if (on) button.removeAttribute("aria-disabled");
    else button.setAttribute("aria-disabled", "true");
  }
}

function enter(offer) {
  if (!ready(offer.callout)) return void tell(t("just-changed"));
  if (socket?.readyState !== WebSocket.OPEN) return void tell(t("not-taken-connection"));
  const { change, ground } = state;
  socket.send(JSON.stringify({ callout: offer.callout, change, ground }));
  settle("ground"); // one touch is one call, however the finger bounces
  arm();
}

function tell(text) {
  put($("typed"), text);
  clearTimeout(typedTimer);
  typedTimer = setTimeout(() => put($("typed"), ""), 2500);
}

// Single letters must be able to be switched off (WCAG 2.1.4): a voice or a sleeve types too.
function keysOn(on) {
  $("keys").setAttribute("aria-pressed", String(on));
  document.body.classList.toggle("no-keys", !on);
  try { localStorage.setItem("keys", on ? "on" : "off"); } catch { /* lasts a page */ }
}

$("keys").addEventListener("click", () => keysOn($("keys").getAttribute("aria-pressed") !== "true"));
try { keysOn(localStorage.getItem("keys") !== "off"); } catch { keysOn(true); }

document.addEventListener("keydown", (event) => {
  if (event.repeat) { // a key that is held down must not answer the next question, too
    if (event.key === "Enter") event.preventDefault();
    return;
  }
  if ($("keys").getAttribute("aria-pressed") !== "true") return;
  if (event.ctrlKey || event.altKey || event.metaKey || !picture) return;
  if (event.key === "Escape") {
    typed = "";
    return void tell("");
  }
  if (event.key.length !== 1 || event.key === " ") return;
  typed += event.key;
  const fits = picture.offers.filter((offer) => offer.keys.startsWith(typed));
  const exact = fits.find((offer) => offer.keys === typed);
  if (exact) {
    typed = "";
    tell(exact.words);
    enter(exact);
  } else if (fits.length) {
    tell(`${typed}…`);
  } else {
    tell(t("nothing-by-that", { typed }));
    typed = "";
  }
});

// --- what moves by itself

function level(message) {
  const share = Math.max(0, Math.min(1, (message.level + 60) / 60));
  $("bar").firstElementChild.style.transform = `scaleX(${share.toFixed(3)})`;
  put($("ear"), t(message.speaking ? "ear-hearing" : message.level < -55 ? "ear-silence" : "ear-listening"));
}

function ring() {
  const window_ = state?.windows?.[0];
  $("window").hidden = !window_;
  if (!window_) return;
  const ran = Math.max(0, now() + offset - window_.anchor);
  const whole = window_.upper * 1.25;
  const arc = (name, from, to) => {
    const node = document.querySelector(`#window .${name}`);
    const length = Math.max(0, Math.min(to, whole) - from) / whole * 100;
    node.setAttribute("stroke-dasharray", `${length} ${100 - length}`);
    node.setAttribute("stroke-dashoffset", `${-from / whole * 100}`);
  };
  arc("span", window_.lower, window_.upper);
  arc("hand", 0, ran);
  put($("seconds"), ran.toFixed(1).replace(".", t("decimal")));
  const rest = window_.upper - ran;
  const word = ran < window_.lower ? t("window-in", { seconds: (window_.lower - ran).toFixed(0) })
    : rest > 0 ? t("window-now", { seconds: rest.toFixed(0) }) : t("window-over");
  put($("window-word"), word);
  put($("window-call"), t("window-call", window_));
}

setInterval(() => {
  age();
  if (state) ring();
  put($("clock"), new Date().toISOString().slice(11, 19) + " Z");
}, 100);

addEventListener("resize", () => {
  if (!state) return;
  items();
  calls();
});

connect();
