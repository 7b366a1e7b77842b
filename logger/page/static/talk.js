// The talk page: records, takes photos and typed notes, sends them, and shows the last notes as they were heard.
import { Sender, Shelf, lay, settle } from "./queue.js";
import { Recorder, canRecord, layFile } from "./recorder.js";
import { Voice } from "./voice.js";

const root = document.querySelector("#talk");
const { job } = root.dataset;
const words = JSON.parse(root.dataset.words), most = JSON.parse(root.dataset.most);
const $ = (id) => document.querySelector(`#${id}`);
const SOON_MS = 500, SELDOM_MS = 4000, ACTIVE_MS = 20000; // between two looks for news
const RETRY_MS = [1000, 2000, 4000, 8000, 15000];
const FRESH_MS = 120000; // a photo whose file is no older was taken just now, and here
const SHOWN = 6;

const filled = (text, ...values) => values.reduce((made, value) => made.replace("{}", value), text);
const clock = (at) => new Date(at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });

const shelf = await Shelf.open().catch((error) => {
  root.hidden = false;
  unkept(error);
  throw error;
});
const voice = new Voice(() => recorder.on && recorder.speaking);
const recorder = new Recorder(shelf, job, { changed: () => stir(), trouble: unkept, spoken: (from, to) => voice.between(from, to) });
const sender = new Sender(shelf, deliver, told);
const state = { reach: "done", tries: 0, unheard: 0, sent: false, feed: "", note: 0, seen: new Set(), active: 0, began: null };

// -- what is said on the page

function put(id, text, language = document.documentElement.lang) {
  if ($(id).textContent === text) return;
  $(id).textContent = text;
  $(id).lang = language;
}

function trouble(line) { put("trouble", line); }

function unkept(error) { trouble(`${words.storage} (${error.message ?? error})`); }

async function show() {
  const items = await shelf.all();
  const waiting = items.filter((item) => item.done && !item.refused).length;
  const refused = items.filter((item) => item.refused);
  put("recording", recorder.on ? filled(words.recording, clock(state.began)) : words.not_recording);
  put("record", recorder.on ? words.stop : words.start);
  $("record").setAttribute("aria-pressed", String(recorder.on));
  const queue = waiting === 1 ? words.waits_one : waiting ? filled(words.waits, waiting) : state.sent ? words.sent : "";
  const heard = waiting || !state.sent ? "" : state.unheard ? words.being_heard : words.all_heard;
  put("queue", [queue, heard, { away: words.away, out: words.out }[state.reach]].filter(Boolean).join(" "));
  $("refused").replaceChildren(...refused.map(refusal));
}

function refusal(item) {
  const line = document.createElement("li"), again = document.createElement("button"), drop = document.createElement("button");
  line.append(item.refused);
  again.textContent = words.again;
  drop.textContent = words.let_go;
  for (const button of [again, drop]) { button.type = "button"; button.className = "plain"; line.append(button); }
  again.addEventListener("click", async () => { await shelf.put({ ...item, refused: "" }); stir(); });
  drop.addEventListener("click", async () => { await shelf.remove(item.id); stir(); });
  return line;
}

// -- sending

const QUERY = ["kind", "name", "at", "modified", "recording_id", "from", "to", "lat", "lon", "error"];

async function deliver(item, parts, sha256) {
  const query = new URLSearchParams(QUERY.filter((key) => item[key]).map((key) => [key, item[key]]));
  for (const each of item.spoken ?? []) query.append("spoken", each);
  const body = new Blob(parts);
  const response = await fetch(`/jobs/${encodeURIComponent(item.job)}/pieces/${sha256}?${query}`, {
    method: "PUT", body, signal: AbortSignal.timeout(30000 + body.size / 20),
  });
  const json = response.headers.get("content-type")?.includes("json");
  return { status: response.status, answer: json ? await response.json() : null };
}

function told(what, item, line, answer) {
  state.active = Date.now();
  if (what === "confirmed") state.sent = true;
  if (what === "confirmed" && item.kind === "sound") state.unheard += 1; // until the next look tells
  if (what === "confirmed" && line && !(item.recording_id && answer.outcome === "taken")) put("last", line, answer.language);
  trouble(what === "later" ? line : "");
}

let timer;
function stir(delay = 0) {
  clearTimeout(timer);
  timer = setTimeout(send, delay);
  show();
}

async function send() {
  const open = await settle(shelf, recorder.live).catch(() => false);
  const reach = await sender.round().catch((error) => { trouble(String(error)); return "later"; });
  if (reach === "busy") return stir(RETRY_MS[0]);
  state.reach = reach;
  state.tries = reach === "done" ? 0 : state.tries + 1;
  await show();
  timer = setTimeout(send, reach === "done" ? RETRY_MS.at(open ? 1 : -1) : RETRY_MS[Math.min(state.tries, RETRY_MS.length) - 1]);
}

addEventListener("online", () => stir());

// -- recording

let lock = null;
async function stayAwake() {
  if (!recorder.on || lock || document.visibilityState !== "visible") return;
  try {
    lock = await navigator.wakeLock?.request("screen") ?? null;
    lock?.addEventListener("release", () => { lock = null; });
  } catch { lock = null; } // the battery is low: the phone decides
}
document.addEventListener("visibilitychange", stayAwake);

$("record").addEventListener("click", async () => {
  if (recorder.on) {
    recorder.stop();
    lock?.release();
  } else {
    try {
      state.began = Date.now();
      await recorder.start();
      navigator.storage?.persist?.();
      trouble("");
      stayAwake();
    } catch (error) { trouble(`${words.no_microphone} (${error.message})`); }
  }
  show();
});
addEventListener("beforeunload", (event) => { if (recorder.on) event.preventDefault(); });
addEventListener("pagehide", () => { if (recorder.on) recorder.stop(); });

// -- photos, files of sound, and typed notes

let place = null, watching = null;
$("place").addEventListener("change", ({ target }) => {
  if (watching !== null) navigator.geolocation.clearWatch(watching);
  [place, watching] = [null, null];
  if (!target.checked) return;
  const lost = (error) => { target.checked = false; put("last", `${words.no_place} (${error.message})`); };
  watching = navigator.geolocation.watchPosition(({ coords }) => { place = coords; }, lost, { enableHighAccuracy: true });
});

for (const kind of ["photo", "sound"]) {
  $(kind).addEventListener("change", async ({ target }) => {
    for (const file of target.files) {
      if (file.size > most[kind]) { trouble(filled(words.too_large, file.name, most[kind] / 1e6)); continue; }
      const fresh = kind === "photo" && Math.abs(Date.now() - file.lastModified) < FRESH_MS;
      const here = fresh && place ? { lat: place.latitude, lon: place.longitude, error: place.accuracy } : {};
      const beside = fresh ? { at: new Date(file.lastModified).toISOString(), ...here } : {};
      await layFile(shelf, job, kind, file, beside).catch(unkept);
    }
    target.value = "";
    stir();
  });
}

$("note").addEventListener("submit", async (event) => {
  event.preventDefault();
  const text = $("words").value.trim();
  if (!text) return;
  const bytes = new TextEncoder().encode(text).buffer;
  const kept = lay(shelf, { kind: "note", job, name: "note", at: new Date().toISOString() }, [bytes]);
  await kept.then(() => { $("words").value = ""; }).catch(unkept);
  stir();
});

// -- what was heard

const notes = new Map([...document.querySelectorAll("#notes li")].map((line) => [line.id, line]));

function noteLine(note) {
  const line = document.createElement("li");
  line.id = `note-${note.id}`;
  line.dataset.place = note.place;
  for (const [name, text] of [["time", note.at], ["p", note.words], ["p", note.read ? note.understood : words.reading]]) {
    if (!text) continue;
    const part = document.createElement(name);
    part.textContent = text;
    line.append(part);
  }
  line.lastElementChild.classList.toggle("told", Boolean(note.understood || !note.read));
  if (note.read && note.understood) line.lastElementChild.lang = note.language;
  return line;
}

function take(news) {
  const first = news.feed !== state.feed;
  Object.assign(state, { feed: news.feed, note: news.note, unheard: news.unheard });
  if (news.trouble) trouble(news.trouble);
  for (const note of news.notes) {
    const id = `note-${note.id}`;
    if (note.gone) { notes.get(id)?.remove(); notes.delete(id); continue; }
    const line = noteLine(note);
    if (notes.has(id)) notes.get(id).replaceWith(line); else insert(line);
    notes.set(id, line);
    const said = `${note.id} ${note.words}`;
    if (!note.read || state.seen.has(said)) continue;
    state.seen.add(said);
    if (!first && note.aloud) voice.say(note.aloud, note.language);
    state.active = Date.now();
  }
  const shown = [...$("notes").children];
  for (const line of shown.slice(SHOWN)) { notes.delete(line.id); line.remove(); }
}

// The newest note stands first.
function insert(line) {
  const older = [...$("notes").children].find((each) => Number(each.dataset.place) < Number(line.dataset.place));
  $("notes").insertBefore(line, older ?? null);
}

async function look() {
  try {
    const response = await fetch(`/jobs/${encodeURIComponent(job)}/since?${new URLSearchParams({ feed: state.feed, note: state.note })}`, { signal: AbortSignal.timeout(10000) });
    if (response.ok) take(await response.json());
    else if (response.status === 409) trouble((await response.json()).error);
    else if (response.status === 401) state.reach = "out";
  } catch { /* out of reach: the next look tells */ }
  show();
  const busy = state.unheard || recorder.on || Date.now() - state.active < ACTIVE_MS;
  setTimeout(look, busy && !document.hidden ? SOON_MS : SELDOM_MS);
}

$("aloud").addEventListener("change", ({ target }) => { voice.on = target.checked; if (!voice.on) voice.quiet(); });

if (!isSecureContext) { $("record").hidden = true; $("placing").hidden = true; }
else if (!canRecord()) $("record").hidden = true;
$("insecure").hidden = isSecureContext && canRecord();
root.hidden = false;
voice.voice("en"); // some browsers load their voices when they are first asked for
stir();
look();
