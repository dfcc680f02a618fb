// The answer follows the plan while it is written. Without this script the button "Show" does the same.
"use strict";
const form = document.querySelector("form[data-answer]");
const answer = document.getElementById("answer");
if (form && answer) {
  let waiting = null;
  let latest = 0;
  const ask = async (what, number) => {
    const body = new URLSearchParams(new FormData(form));
    body.set("ask", what);
    const reply = await fetch(form.dataset.answer, { method: "POST", body });
    const text = await reply.text();
    if (number !== latest) return false;
    answer.innerHTML = text;
    return reply.ok;
  };
  const follow = async () => {
    const number = ++latest;
    answer.classList.add("waiting");
    answer.setAttribute("aria-busy", "true");
    try {
      if (await ask("middle", number)) {
        answer.classList.remove("waiting");
        await ask("range", number);
      }
    } catch {
      if (number === latest) answer.textContent = "The server does not answer: is it still running?";
    } finally {
      if (number === latest) {
        answer.classList.remove("waiting");
        answer.removeAttribute("aria-busy");
      }
    }
  };
  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(follow, 350);
  });
  if (form.dataset.follow === "yes") follow();
}
// A log dropped anywhere on its form goes into it.
for (const file of document.querySelectorAll("input[type=file]")) {
  const place = file.form;
  place.addEventListener("dragover", (event) => event.preventDefault());
  place.addEventListener("drop", (event) => {
    event.preventDefault();
    if (event.dataTransfer.files.length > 0) file.files = event.dataTransfer.files;
  });
}
