// Questions: plays sound, and puts the answer to a form in the place of what is shown, with no page loaded anew.
import { play } from "./sound.js";

const said = () => document.querySelector(".said");
const { away } = document.querySelector("script[data-away]").dataset;

async function send(form, button) {
  const body = new URLSearchParams(new FormData(form));
  if (button?.name) body.set(button.name, button.value);
  const sent = { method: "POST", body, headers: { "X-In-Place": "1" } };
  const [answer, text] = await fetch(form.action, sent).then(async (got) => [got, await got.text()])
    .catch(() => { throw new Error(away); });
  if (!(answer.headers.get("Content-Type") ?? "").startsWith("text/html")) throw new Error(text.trim());
  const made = new DOMParser().parseFromString(text, "text/html"), main = made.querySelector("main");
  if (!main) { location.reload(); return; }
  document.querySelector("main").replaceWith(main);
  document.title = made.title;
  const at = answer.headers.get("Content-Location");
  if (at) history.pushState(null, "", at);
  play(main);
  main.focus({ preventScroll: true });
  scrollTo(0, 0);
}

let sending = false;
addEventListener("submit", async (event) => {
  if (!event.target.closest("main")) return;
  event.preventDefault();
  if (sending) return;
  sending = true;
  try {
    await send(event.target, event.submitter);
  } catch (error) {
    said().textContent = error.message;
  } finally {
    sending = false;
  }
});
addEventListener("popstate", () => location.reload());
play(document);
