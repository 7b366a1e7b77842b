// Buttons and links that bear data-play play that address, or the one that they lead to; data-rate says how fast.
let sounding = null;

export function play(root) {
  for (const button of root.querySelectorAll("[data-play]")) {
    button.addEventListener("click", (event) => {
      event.preventDefault();
      sounding?.pause();
      sounding = new Audio(button.dataset.play || button.href);
      sounding.playbackRate = Number(button.dataset.rate ?? 1);
      sounding.play().catch((error) => { button.textContent = error.message; });
    });
  }
}
