"use strict";
// All pages work without this file. It shows progress while a run goes on, sorts and
// filters tables, and takes files that are dropped anywhere on a form that sends
// files. It asks only the service it came from. Its words stand on the page, in the page's
// language.

const words = document.body.dataset, language = document.documentElement.lang;

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
    } catch { says.textContent = words.saySilent; }
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

// Tables that have an id can be sorted by their heads, filtered, and kept as CSV.
const shortTable = 6; // fewer rows are seen at a glance

// rank is what a cell sorts by: its number, or its words; what is not given comes last.
const rank = (cell, numeric) => {
  const text = cell ? cell.textContent.trim() : "";
  if (!numeric) return language === "de" ? text.replace(/^(?:(\d\d)\.)?(\d\d)\.(\d{4})\b/, (_, day, month, year) => `${year}-${month}-${day || ""}`) : text;
  const plain = language === "de" ? text.replaceAll(".", "").replace(",", ".") : text.replaceAll(",", "");
  const number = plain.replaceAll("\u2212", "-").match(/-?\d+(\.\d+)?/);
  return number ? Number(number[0]) : null;
};

const sortRows = (table, rows, column, down) => {
  const numeric = table.tHead.rows[0].cells[column].classList.contains("num");
  const compare = (a, b) => {
    const x = rank(a.cells[column], numeric), y = rank(b.cells[column], numeric);
    if (x === null || x === "" || y === null || y === "") return (x === null || x === "") - (y === null || y === "");
    const order = numeric ? x - y : x.localeCompare(y, language, { numeric: true });
    return down ? -order : order;
  };
  table.tBodies[0].append(...[...rows].sort(compare));
  [...table.tHead.rows[0].cells].forEach((head, i) => {
    if (i === column) head.setAttribute("aria-sort", down ? "descending" : "ascending");
    else head.removeAttribute("aria-sort");
  });
};

const asCSV = (table) => [...table.rows].filter((row) => !row.hidden).map((row) => [...row.cells].map((cell) => {
  let text = cell.textContent.trim().replaceAll("\u2212", "-");
  if (/^[=+@]/.test(text)) text = `'${text}`; // no formula for a spreadsheet
  return /[",\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}).join(",")).join("\r\n") + "\r\n";

for (const table of document.querySelectorAll(".scroll > table[id]")) {
  const rows = [...table.tBodies[0].rows];
  const heads = [...table.tHead.rows[0].cells];
  if (rows.length < shortTable || table.closest(".letter")) continue; // a letter is to be filled in
  const box = document.createElement("div");
  box.className = "tabletools";
  const filter = document.createElement("input");
  filter.type = "search";
  const label = document.createElement("label");
  label.append(`${words.sayRows} `, filter);
  const says = document.createElement("span");
  says.setAttribute("role", "status");
  const by = document.createElement("select");
  by.add(new Option(words.sayStands, ""));
  heads.forEach((head, i) => {
    const name = head.textContent.trim();
    by.add(new Option(`${name}, ${words.sayUp}`, `${i} up`));
    by.add(new Option(`${name}, ${words.sayDown}`, `${i} down`));
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      by.value = `${i} ${head.getAttribute("aria-sort") === "ascending" ? "down" : "up"}`;
      by.dispatchEvent(new Event("change"));
    });
  });
  const order = document.createElement("label");
  order.className = "order";
  order.append(`${words.sayOrder} `, by);
  const kept = document.querySelector(`.runbar a[href$="/tables/${CSS.escape(table.id)}.csv"]`);
  const link = document.createElement("a");
  link.textContent = "CSV";
  link.setAttribute("aria-label", `${words.sayCsv} ${table.caption ? table.caption.textContent.trim() : words.sayTable}`);
  link.download = kept ? "" : `${table.id}.csv`;
  link.href = kept ? kept.href : "#";
  if (!kept) link.addEventListener("click", () => { link.href = URL.createObjectURL(new Blob([asCSV(table)], { type: "text/csv" })); });
  filter.addEventListener("input", () => {
    const wanted = filter.value.trim().toLowerCase();
    rows.forEach((row) => { row.hidden = !row.textContent.toLowerCase().includes(wanted); });
    says.textContent = wanted ? `${rows.filter((row) => !row.hidden).length} ${words.sayOf} ${rows.length}` : "";
  });
  by.addEventListener("change", () => {
    if (by.value === "") {
      table.tBodies[0].append(...rows);
      heads.forEach((head) => head.removeAttribute("aria-sort"));
      return;
    }
    const [column, way] = by.value.split(" ");
    sortRows(table, rows, Number(column), way === "down");
  });
  box.append(label, says, order, link);
  table.closest(".scroll").before(box);
}
