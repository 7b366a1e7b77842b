// Buttons that bear data-play play that address; data-rate says how fast.
let sounding = null;

export function play(root) {
  for (const button of root.querySelectorAll("[data-play]")) {
    button.addEventListener("click", () => {
      sounding?.pause();
      sounding = new Audio(button.dataset.play);
      sounding.playbackRate = Number(button.dataset.rate ?? 1);
      sounding.play().catch((error) => { button.textContent = error.message; });
    });
  }
}
