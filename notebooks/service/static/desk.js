"use strict";
// The form desk works without this file. It shows what the desk says while a form
// is typed in, and keeps what is typed and not kept yet in this tab of the browser
// alone (sessionStorage): it holds numbers of people's bodies, so it goes with the
// tab, when the form is kept, and when the visitor leaves.

const drafts = "desk-draft ";
const dropDrafts = () => {
  for (const name of Object.keys(sessionStorage)) if (name.startsWith(drafts)) sessionStorage.removeItem(name);
};
if (document.querySelector("[data-kept]")) dropDrafts();
for (const form of document.querySelectorAll('form.leave:not([action="/language"])')) form.addEventListener("submit", dropDrafts);

const desk = document.querySelector("[data-desk]");
if (desk) {
  const inputs = [...desk.querySelectorAll("table.numbers input")];
  const verdict = desk.querySelector("[data-verdict]");
  const title = document.title;
  let asked = 0, timer;

  const text = (tag, words) => { const e = document.createElement(tag); e.textContent = words; return e; };
  const show = (answer) => {
    for (const says of desk.querySelectorAll(".says")) {
      const field = document.getElementById(says.id.slice(0, -"-doubt".length));
      const words = answer.doubts[field.name] || "";
      if (says.textContent !== words) says.textContent = words;
      field.classList.toggle("doubt", words !== "");
    }
    const words = answer.problem || (answer.verdict ? `${desk.dataset.saySoFar} ${answer.verdict}` : "");
    if (verdict.textContent !== words) verdict.textContent = words;
    document.title = answer.verdict ? `${answer.verdict} · ${title}` : title;
    desk.querySelector("[data-notes]").replaceChildren(...(answer.notes || []).map((n) => Object.assign(text("p", n), { className: "small" })));
    const list = document.createElement("ul");
    for (const pair of answer.pairs || []) {
      const item = document.createElement("li"), link = text("a", pair.order);
      link.href = pair.address;
      item.append(link, `: ${pair.words}`);
      list.append(item);
    }
    desk.querySelector("[data-pairs]").replaceChildren(...(list.children.length ? [text("p", desk.dataset.sayPairs), list] : []));
  };
  const ask = async () => {
    const mine = ++asked;
    try {
      const answer = await fetch("/desk/doubts", { method: "POST", body: new URLSearchParams(new FormData(desk)) });
      const got = await answer.json();
      if (mine === asked) show(got);
    } catch { verdict.textContent = document.body.dataset.saySilent; }
  };

  const draft = desk.dataset.draft && drafts + desk.dataset.draft;
  const fields = [...desk.elements].filter((e) => e.name && e.type !== "hidden" && e.tagName !== "BUTTON");
  const keepDraft = () => {
    if (draft) sessionStorage.setItem(draft, JSON.stringify(Object.fromEntries(fields.map((e) => [e.name, e.value]))));
  };
  if (draft && sessionStorage.getItem(draft)) {
    try {
      const typed = JSON.parse(sessionStorage.getItem(draft));
      for (const e of fields) if (e.name in typed) e.value = typed[e.name];
      desk.querySelector("[data-drafted]").hidden = false;
      ask();
    } catch { sessionStorage.removeItem(draft); }
  }
  desk.querySelector("[data-drop-draft]").addEventListener("click", () => { dropDrafts(); location.reload(); });

  desk.addEventListener("input", () => { keepDraft(); clearTimeout(timer); timer = setTimeout(ask, 250); });

  // Enter goes down the column, then to the top of the next one.
  desk.addEventListener("keydown", (event) => {
    const at = inputs.indexOf(event.target);
    if (event.key !== "Enter" || at < 0) return;
    event.preventDefault();
    const columns = [0, 1, 2, 3].map((c) => inputs.filter((i) => i.closest("td").cellIndex === c + 1));
    const order = columns.flat();
    const next = order[order.indexOf(event.target) + 1];
    (next || desk.querySelector("[data-check]")).focus();
  });
  // Enter never sends the form from among the numbers, however it was typed.
  desk.addEventListener("keypress", (event) => {
    if (event.key === "Enter" && inputs.includes(event.target)) event.preventDefault();
  });
}
