// Plays the second of sound that a question came from; a letter on the keyboard takes that reading.
import { play } from "./sound.js";

document.addEventListener("keydown", (event) => {
  if (event.repeat || event.ctrlKey || event.altKey || event.metaKey || event.target.matches("input, select, textarea")) return;
  if (event.key === "p") return void document.querySelector("[data-play]")?.click();
  const wanted = { y: "yes", s: "skip", n: "not there" }[event.key] ?? event.key;
  document.querySelector(`#answer button[value="${CSS.escape(wanted)}"], button[form="answer"][value="${CSS.escape(wanted)}"]`)?.click();
});

play(document);
