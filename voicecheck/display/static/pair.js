// The code goes out once; the answer says how long to wait after a wrong one.
"use strict";
const told = document.getElementById("told");
const code = document.getElementById("code");
document.getElementById("pair").addEventListener("submit", async (event) => {
  event.preventDefault();
  told.textContent = "";
  try {
    const answer = await fetch("/pair", { method: "POST", body: code.value });
    if (answer.ok) {
      location.replace("/");
      return;
    }
    told.textContent = await answer.text();
  } catch {
    told.textContent = JSON.parse(document.body.dataset.texts)["no-connection"];
  }
  code.select();
});
code.focus();
