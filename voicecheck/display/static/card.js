// A saved file is checked and drawn again; a lost connection is told, never silently old.
"use strict";
import { t } from "/static/words.js";

const told = document.getElementById("watching");

function watch() {
  const socket = new WebSocket(`ws://${location.host}/changes/${told.dataset.key}`);
  socket.onmessage = (event) => {
    const { kind } = JSON.parse(event.data);
    if (kind === "changed") location.reload();
    else told.textContent = t("card-checked");
  };
  socket.onclose = () => {
    told.textContent = t("card-old");
    setTimeout(watch, 1000);
  };
}

watch();
