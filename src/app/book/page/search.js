"use strict";
// Finds pages by words, with no server: every word that is asked for has to be in a page's title or
// in what it says.
(() => {
  const up = document.body.dataset.up;
  const form = document.getElementById("search");
  const ask = document.getElementById("ask");
  const hits = document.getElementById("hits");
  const MOST = 12;
  form.hidden = false;
  form.addEventListener("submit", (event) => event.preventDefault());
  ask.addEventListener("input", () => {
    const words = ask.value.toLowerCase().split(/\s+/).filter(Boolean);
    hits.replaceChildren();
    hits.hidden = words.length === 0;
    if (hits.hidden) return;
    const has = (text, word) => text.toLowerCase().includes(word);
    const found = FOUND.filter(([title, , said]) =>
      words.every((word) => has(title, word) || has(said, word)));
    const by = (row) => (words.every((word) => has(row[0], word)) ? 0 : 1);
    found.sort((a, b) => by(a) - by(b));
    for (const [title, page, said] of found.slice(0, MOST)) {
      const link = document.createElement("a");
      link.href = up + page;
      link.textContent = title;
      const line = document.createElement("p");
      line.append(link, said ? " " + said.slice(0, 100) : "");
      hits.append(line);
    }
    const rest = document.createElement("p");
    rest.textContent =
      found.length === 0 ? "Nothing has these words."
      : found.length > MOST ? `and ${found.length - MOST} more` : "";
    hits.append(rest);
  });
})();
