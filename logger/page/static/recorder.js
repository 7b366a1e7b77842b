// Records all day in pieces that each decode alone: the next recorder starts before the last one stops, where nobody
// speaks if there is such a moment. Where a piece lies on the page's clock goes with it, and the laptop takes out what
// two pieces share.
import { lay } from "./queue.js";

const TICK_MS = 100;
const PART_MS = 2000; // of sound, in memory alone until it is kept: what a crash may cost
const PAUSE_MS = 900; // of silence after speech ends a piece, as it ends a note
const SHORT_MS = 400; // two pieces overlap so long in a pause,
const LONG_MS = 3000; // and so long where somebody may be in mid-sentence
const LONGEST_MS = 25000;
const LOUDER_DB = 6; // than the quietest of late: speech
const RISE_DB = 0.2; // a tick by which what counts as quiet goes up, as an engine starts
const KINDS = ["audio/webm;codecs=opus", "audio/mp4", "audio/ogg;codecs=opus"];
const SOUND = { channelCount: 1, echoCancellation: true, noiseSuppression: false, autoGainControl: true };
const BITS = 32000;

export const canRecord = () => Boolean(navigator.mediaDevices?.getUserMedia && globalThis.MediaRecorder);

const seconds = () => performance.now() / 1000;
const name = (at, type) => {
  const ending = type.includes("mp4") ? "m4a" : type.includes("ogg") ? "ogg" : "webm";
  return `talk ${at.toISOString().slice(0, 19).replaceAll(":", ".")}Z.${ending}`;
};

export class Recorder {
  // `changed()` after a piece is kept or the microphone is lost; `trouble(error)` where keeping fails.
  constructor(shelf, job, { changed, trouble, spoken }) {
    Object.assign(this, { shelf, job, changed, trouble, spoken, stream: null, starting: false, piece: null, speaking: false, quietMs: 0, live: new Set() });
  }

  get on() { return this.stream !== null; }

  async start() {
    if (this.starting || this.on) return;
    this.starting = true; // until the microphone answers, a second tap is none
    try { this.stream = await navigator.mediaDevices.getUserMedia({ audio: SOUND }); } finally { this.starting = false; }
    for (const track of this.stream.getAudioTracks()) track.addEventListener("ended", () => this.stop());
    this.recording_id = [...crypto.getRandomValues(new Uint8Array(8))].map((each) => each.toString(16).padStart(2, "0")).join("");
    this.meter = new Meter(this.stream);
    this.floor = 0;
    this.begin();
    this.ticking = setInterval(() => this.tick(), TICK_MS);
    this.changed();
  }

  stop() {
    clearInterval(this.ticking);
    const { stream, meter } = this;
    this.stream = null;
    this.piece?.end(() => { stream?.getTracks().forEach((track) => track.stop()); meter?.close(); });
    this.piece = null;
    this.changed();
  }

  begin() {
    const last = this.piece;
    this.piece = new Piece(this);
    this.heard = 0;
    this.began = Date.now();
    return last;
  }

  // The piece was ended by another page while this one slept: what is said from now on is another piece.
  renew(piece) {
    if (this.piece === piece) this.begin();
    piece.end();
  }

  tick() {
    const level = this.meter.level(), now = Date.now();
    const late = now - this.began >= LONGEST_MS;
    if (level !== null) {
      this.floor = this.floor === 0 ? level : Math.min(level, this.floor + RISE_DB);
      this.speaking = level > this.floor + LOUDER_DB;
      this.heard += this.speaking ? 1 : 0;
      this.quietMs = this.speaking ? 0 : this.quietMs + TICK_MS;
    }
    const pause = level !== null && this.quietMs >= PAUSE_MS;
    if (!late && !(pause && this.heard > 2)) return;
    const last = this.begin();
    setTimeout(() => last.end(), pause ? SHORT_MS : LONG_MS);
  }
}

class Piece {
  constructor(of) {
    this.of = of;
    this.parts = 0;
    const mimeType = KINDS.find((kind) => MediaRecorder.isTypeSupported(kind));
    this.recorder = new MediaRecorder(of.stream, { audioBitsPerSecond: BITS, ...(mimeType && { mimeType }) });
    const at = new Date();
    this.item = {
      kind: "sound", job: of.job, recording_id: of.recording_id, at: at.toISOString(), from: seconds(), to: 0, done: false,
      touched: at.getTime(), name: name(at, this.recorder.mimeType || mimeType || ""), spoken: [],
    };
    this.recorder.addEventListener("start", () => {
      this.item.at = new Date().toISOString();
      this.item.from = seconds();
    });
    this.recorder.addEventListener("dataavailable", ({ data }) => { if (data.size) this.then(() => this.keep(data)); });
    this.recorder.addEventListener("stop", () => this.then(() => this.finish()));
    this.work = Promise.resolve();
    this.then(() => this.lay());
    this.recorder.start(PART_MS);
  }

  then(step) { this.work = this.work.then(step).catch((error) => this.of.trouble(error)); }

  async lay() {
    if (this.item.id !== undefined) return;
    this.item.id = await this.of.shelf.add(this.item);
    this.of.live.add(this.item.id);
  }

  async keep(data) {
    const part = await data.arrayBuffer();
    await this.lay();
    this.item.touched = Date.now();
    this.item.spoken = this.of.spoken(this.item.from, seconds());
    if (this.lost) return;
    this.lost = !(await this.of.shelf.append(this.item, this.parts, part));
    if (this.lost) this.of.renew(this);
    this.parts += 1;
  }

  async finish() {
    this.item.to = this.ended ?? seconds();
    this.item.spoken = this.of.spoken(this.item.from, this.item.to);
    if (this.parts && !this.lost) await this.of.shelf.put({ ...this.item, done: true });
    else if (!this.parts && this.item.id !== undefined) await this.of.shelf.remove(this.item.id);
    this.of.live.delete(this.item.id);
    this.after?.();
    this.of.changed();
  }

  end(after) {
    this.after = after;
    this.ended ??= seconds();
    if (this.recorder.state === "inactive") after?.();
    else this.recorder.stop();
  }
}

// How loud it is, in dB; null where the browser does not let that be known.
class Meter {
  constructor(stream) {
    const Context = globalThis.AudioContext ?? globalThis.webkitAudioContext;
    if (!Context) return;
    this.context = new Context();
    this.analyser = this.context.createAnalyser();
    this.analyser.fftSize = 4096;
    this.context.createMediaStreamSource(stream).connect(this.analyser);
    this.samples = new Float32Array(this.analyser.fftSize);
    this.context.resume();
  }

  level() {
    if (this.context?.state !== "running") return null;
    this.analyser.getFloatTimeDomainData(this.samples);
    const power = this.samples.reduce((sum, each) => sum + each * each, 0) / this.samples.length;
    return Math.max(-80, 10 * Math.log10(power + 1e-9));
  }

  close() { this.context?.close(); }
}

// A file that somebody chose, sound or photo, in parts.
export function layFile(shelf, job, kind, file, beside = {}) {
  async function* parts() {
    for (let at = 0; at < file.size; at += 2 ** 20) yield await file.slice(at, at + 2 ** 20).arrayBuffer();
  }
  return lay(shelf, { kind, job, name: file.name, modified: new Date(file.lastModified).toISOString(), ...beside }, parts());
}
