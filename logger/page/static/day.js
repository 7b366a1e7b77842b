// The day: plays sound, and opens the hour that a link leads into in browsers that do not do so by themselves.
import { play } from "./sound.js";

play(document);

function unfold() {
  const item = document.getElementById(location.hash.slice(1));
  const hour = item?.closest("details.hour:not([open])");
  if (hour) {
    hour.open = true;
    item.scrollIntoView();
  }
}
addEventListener("hashchange", unfold);
unfold();
