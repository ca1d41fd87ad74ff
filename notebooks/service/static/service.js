"use strict";
// All pages work without this file. It shows progress while a run goes on, and takes
// files that are dropped anywhere on a form that sends files. It asks only the
// service it came from.

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
