// The answer follows the plan while it is written, forms tell that they are at work, and long answers how far they are. Without this script every
// button does the same by a page of its own.
"use strict";

const who = `${performance.timeOrigin}-${Math.random()}`;
const answer = document.getElementById("answer");
const more = document.getElementById("more");

// Puts markup of the server's own into a place; what was unfolded there stays so.
const put = (place, markup) => {
  const open = new Set([...place.querySelectorAll("details[open] > summary")].map((s) => s.textContent));
  place.innerHTML = markup;
  for (const summary of place.querySelectorAll("details > summary")) {
    if (open.has(summary.textContent)) summary.parentElement.open = true;
  }
};

// On a small screen the answer lies below the form: its first line stays in sight.
const glance = document.getElementById("glance");
const glanced = () => {
  const line = answer?.querySelector("h2")?.textContent;
  if (!glance) return;
  glance.textContent = line ?? "";
  glance.hidden = !line;
};
glanced();

const send = async (to, form, fields) => {
  const body = new URLSearchParams(new FormData(form));
  for (const [name, value] of Object.entries(fields)) body.set(name, value);
  const reply = await fetch(to, { method: "POST", body });
  return { ok: reply.ok, text: await reply.text() };
};

const silent = "The server does not answer: is it still running?";

// The plan: its middle at once, its range as soon as it is there; only the newest counts.
let asked = 0;
const follow = async () => {
  const form = document.querySelector("form[data-answer]");
  const number = ++asked;
  answer.setAttribute("aria-busy", "true");
  try {
    for (const ask of ["middle", "range"]) {
      const reply = await send(form.dataset.answer, form, { ask, who });
      if (number !== asked) return;
      put(answer, reply.text);
      glanced();
      answer.dataset.shows = ask;
      if (answer.querySelector(".trouble")) break;
    }
  } catch {
    if (number === asked) answer.textContent = silent;
  }
  if (number === asked) answer.removeAttribute("aria-busy");
};

// A part added or taken out: the form comes anew, and the keyboard goes on from there.
const redraw = async (form, button) => {
  const reply = await send(form.action, form, { do: button.value, ask: "form" });
  if (!reply.ok) return form.requestSubmit(button);
  form.outerHTML = reply.text;
  const changes = document.querySelectorAll("fieldset[id^=change]");
  const last = button.value === "add" ? changes[changes.length - 1] : null;
  const next = last?.querySelector("input:not([type=hidden]), select") ?? document.querySelector("select[name=new]");
  next?.focus();
  follow();
};

const beside = async (form, button) => {
  more.setAttribute("aria-busy", "true");
  more.textContent = "Working it out.";
  try {
    put(more, (await send(button.formAction, form, { ask: "part" })).text);
  } catch {
    more.textContent = silent;
  }
  more.removeAttribute("aria-busy");
  more.scrollIntoView({ block: "nearest" });
};

let rest = null;
document.addEventListener("input", (event) => {
  if (!event.target.closest("form[data-answer]") || event.target.name === "new") return;
  clearTimeout(rest);
  rest = setTimeout(follow, 30);
});

document.addEventListener("submit", (event) => {
  const { target: form, submitter: button } = event;
  if (form.dataset.answer && button?.name === "do") {
    event.preventDefault();
    clearTimeout(rest);
    if (button.value === "show") follow();
    else redraw(form, button).catch(() => { answer.textContent = silent; });
  } else if (button?.dataset.into && more) {
    event.preventDefault();
    beside(form, button);
  } else if (form.dataset.busy) {
    const told = document.createElement("p");
    told.setAttribute("role", "status");
    told.className = "busy";
    told.textContent = `${form.dataset.busy} …`;
    form.append(told);
  }
});

// A log dropped anywhere on its form goes into it.
for (const file of document.querySelectorAll("input[type=file]")) {
  const place = file.form;
  place.addEventListener("dragover", (event) => {
    event.preventDefault();
    place.classList.add("over");
  });
  place.addEventListener("dragleave", () => place.classList.remove("over"));
  place.addEventListener("drop", (event) => {
    event.preventDefault();
    place.classList.remove("over");
    if (event.dataTransfer.files.length > 0) file.files = event.dataTransfer.files;
  });
}

// A long answer is looked at until it is there.
const run = document.querySelector("[data-run]");
const look = async () => {
  if (!run.querySelector("[data-runs]")) return;
  try {
    const reply = await fetch(run.dataset.run);
    const text = await reply.text();
    const done = document.createElement("template");
    done.innerHTML = text;
    const [now, next] = [run, done.content].map((place) => place.querySelector("[data-runs]"));
    if (now && next) {
      // What has the keyboard's attention stays.
      now.querySelector("[role=status]").textContent = next.querySelector("[role=status]").textContent;
      const [bar, far] = [now, next].map((place) => place.querySelector("progress"));
      bar.max = far.max;
      bar.value = far.value;
    } else {
      put(run, text);
    }
  } catch {
    run.textContent = silent;
  }
  setTimeout(look, 500);
};
if (run) look();

for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => print());
}
