"use strict";
const main = document.querySelector("main");
const cards = Array.from(main.children);
const told = document.getElementById("told");

// Case and accents do not count: who types "rucken" finds "Rücken".
const plain = (text) => text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
const words = cards.map((card) => plain(card.dataset.words));

function search() {
  const wanted = plain(document.getElementById("search").value).split(/\s+/).filter(Boolean);
  let count = 0;
  cards.forEach((card, k) => {
    card.hidden = !wanted.every((word) => words[k].includes(word));
    count += card.hidden ? 0 : 1;
  });
  told.textContent = count === cards.length ? `${count} colourways` : `${count} of ${cards.length}`;
  document.getElementById("none").hidden = count > 0;
}

function sort() {
  const by = document.getElementById("sort").value;
  main.append(...cards.slice().sort((a, b) => a.dataset[by] - b.dataset[by]));
}

// Pages opened from a disk may have no clipboard of the newer kind: then the older way does it.
async function copy(text) {
  if (navigator.clipboard) {
    try {
      await navigator.clipboard.writeText(text);
      return true;
    } catch {
      // Refused: try the older way.
    }
  }
  const area = document.createElement("textarea");
  area.value = text;
  document.body.append(area);
  area.select();
  const done = document.execCommand("copy");
  area.remove();
  return done;
}

async function clicked(event) {
  const button = event.target.closest("button[data-copy]");
  if (!button) return;
  const text = button.dataset.copy;
  const done = await copy(text);
  button.focus();
  told.textContent = done ? `copied ${text}` : "this browser lets no page copy";
  button.classList.toggle("copied", done);
  setTimeout(() => button.classList.remove("copied"), 900);
}

document.getElementById("search").addEventListener("input", search);
document.getElementById("sort").addEventListener("change", sort);
main.addEventListener("click", clicked);
search();  // browsers fill in what was typed before a page was loaded anew
sort();
