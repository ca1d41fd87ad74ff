"use strict";
// All pages work without this file. It shows progress while a run goes on, and
// doubts while a form is typed in, and takes files that are dropped anywhere on a
// form that sends files. It asks only the service it came from.

const job = document.querySelector("[data-job]");
if (job) {
  const says = job.querySelector("[data-says]"), bar = job.querySelector("progress");
  const look = async () => {
    try {
      const answer = await fetch(`/job/${job.dataset.job}/state`);
      const state = await answer.json();
      if (state.ended) { location.reload(); return; }
      says.textContent = state.says;
      if (!state.waiting && state.cells) {
        bar.max = state.cells;
        bar.value = state.done;
      }
    } catch { says.textContent = "The service does not answer at the moment."; }
    setTimeout(look, 500);
  };
  setTimeout(look, 500);
}

const desk = document.querySelector("[data-desk]");
if (desk) {
  const inputs = [...desk.querySelectorAll("table.numbers input")];
  const verdict = desk.querySelector("[data-verdict]");
  let asked = 0, timer;

  const show = (answer) => {
    for (const input of inputs) {
      const doubt = answer.doubts[input.name] || "";
      input.classList.toggle("doubt", doubt !== "");
      document.getElementById(`${input.id}-doubt`).textContent = doubt;
    }
    verdict.textContent = answer.problem || (answer.verdict ? `So far: ${answer.verdict}` : "");
  };
  const ask = async () => {
    const mine = ++asked;
    try {
      const answer = await fetch("/desk/doubts", { method: "POST", body: new URLSearchParams(new FormData(desk)) });
      const got = await answer.json();
      if (mine === asked) show(got);
    } catch { verdict.textContent = "The service does not answer at the moment."; }
  };
  desk.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(ask, 250); });

  // Enter goes down the column, then to the top of the next one.
  desk.addEventListener("keydown", (event) => {
    const at = inputs.indexOf(event.target);
    if (event.key !== "Enter" || at < 0) return;
    event.preventDefault();
    const columns = [0, 1, 2, 3].map((c) => inputs.filter((i) => i.closest("td").cellIndex === c + 1));
    const order = columns.flat();
    const next = order[order.indexOf(event.target) + 1];
    (next || desk.querySelector("button")).focus();
  });
  // Enter never sends the form from among the numbers, however it was typed.
  desk.addEventListener("keypress", (event) => {
    if (event.key === "Enter" && inputs.includes(event.target)) event.preventDefault();
  });
}

for (const form of document.querySelectorAll("form[data-drop]")) {
  const field = form.querySelector("input[type=file]");
  form.addEventListener("dragover", (event) => { event.preventDefault(); form.classList.add("over"); });
  form.addEventListener("dragleave", () => form.classList.remove("over"));
  form.addEventListener("drop", (event) => {
    event.preventDefault();
    form.classList.remove("over");
    if (event.dataTransfer.files.length) field.files = event.dataTransfer.files;
  });
}
