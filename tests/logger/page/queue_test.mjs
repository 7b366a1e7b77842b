// The queue with a shelf in memory and a laptop that fails at random.
import assert from "node:assert/strict";
import { createHash, randomBytes } from "node:crypto";
import { test } from "node:test";
import { Sender, digest, lay, settle, verdict } from "../../../logger/page/static/queue.js";
import { Recorder } from "../../../logger/page/static/recorder.js";
import { Sha256 } from "../../../logger/page/static/sha256.js";
import { Voice } from "../../../logger/page/static/voice.js";

class Memory {
  constructor() { this.items = new Map(); this.bytes = new Map(); this.next = 1; }
  async add(item) { const id = this.next++; this.items.set(id, { ...item, id }); this.bytes.set(id, []); return id; }
  async put(item) { this.items.set(item.id, { ...item }); }
  async append(item, number, part) {
    const open = this.items.has(item.id) && !this.items.get(item.id).done;
    if (open) { await this.put(item); this.bytes.get(item.id)[number] = part; }
    return open;
  }
  async has(id) { return this.items.has(id); }
  async remove(id) { this.items.delete(id); this.bytes.delete(id); }
  async all() { return [...this.items.values()].sort((a, b) => a.id - b.id).map((each) => ({ ...each })); }
  async parts(id) { return [...this.bytes.get(id) ?? []]; }
}

class Laptop {
  constructor(dice = () => 1) { this.log = []; this.dice = dice; this.shut = new Set(); this.bad = new Map(); }
  deliver = async (item, parts, sha256) => {
    const luck = this.dice();
    if (luck < 0.3) throw new TypeError("out of reach");
    if (this.shut.has(item.job)) return { status: 409, answer: { error: "this job was removed" } };
    if (this.bad.has(item.name)) return { status: this.bad.get(item.name), answer: { error: "no such kind" } };
    const already = this.log.some((each) => each.sha256 === sha256);
    if (!already) this.log.push({ name: item.name, sha256 });
    if (luck < 0.6) throw new TypeError("the answer was lost");
    const size = parts.reduce((sum, part) => sum + part.byteLength, 0);
    return { status: 200, answer: { sha256, bytes: size, outcome: already ? "already" : "taken", line: "" } };
  };
}

const file = async (shelf, name, job = "j", bytes = randomBytes(300)) => lay(shelf, { name, job, kind: "sound" }, [bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + 100), bytes.buffer.slice(bytes.byteOffset + 100, bytes.byteOffset + bytes.length)]);

function dice(seed) { return () => { seed = (seed * 1103515245 + 12345) % 2 ** 31; return seed / 2 ** 31; }; }

test("SHA-256 of the standard's examples, of every length and in parts", () => {
  const bytes = (text) => new TextEncoder().encode(text);
  assert.equal(new Sha256().hex(), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  assert.equal(new Sha256().add(bytes("abc")).hex(), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  for (let size = 0; size < 260; size += 1) {
    const raw = randomBytes(size), cut = Math.floor(size / 3);
    assert.equal(new Sha256().add(raw.subarray(0, cut)).add(raw.subarray(cut)).hex(), createHash("sha256").update(raw).digest("hex"));
  }
});

test("what is sent is confirmed by hash and length alone", () => {
  const good = { sha256: "a", bytes: 3 };
  assert.equal(verdict(200, good, "a", 3), "confirmed");
  assert.equal(verdict(200, good, "b", 3), "later");
  assert.equal(verdict(200, good, "a", 4), "later");
  assert.equal(verdict(200, null, "a", 3), "later");
  assert.equal(verdict(401, null, "a", 3), "out");
  for (const status of [400, 413, 415]) assert.equal(verdict(status, null, "a", 3), "refused");
  for (const status of [0, 403, 404, 409, 421, 500, 503]) assert.equal(verdict(status, null, "a", 3), "later");
});

test("all goes in order, and the phone lets go", async () => {
  const shelf = new Memory(), laptop = new Laptop();
  for (let each = 0; each < 5; each += 1) await file(shelf, `piece ${each}`);
  assert.equal(await new Sender(shelf, laptop.deliver).round(), "done");
  assert.deepEqual(laptop.log.map((each) => each.name), [0, 1, 2, 3, 4].map((each) => `piece ${each}`));
  assert.equal(shelf.items.size + shelf.bytes.size, 0);
});

test("with a laptop out of reach now and again nothing is lost, doubled or out of order", async () => {
  for (let seed = 1; seed < 30; seed += 1) {
    const shelf = new Memory(), laptop = new Laptop(dice(seed)), sent = [];
    for (let each = 0; each < 12; each += 1) await file(shelf, `piece ${each}`);
    for (const item of await shelf.all()) sent.push((await digest(await shelf.parts(item.id))).sha256);
    let rounds = 0;
    while (shelf.items.size && rounds < 500) { await new Sender(shelf, laptop.deliver).round(); rounds += 1; }
    assert.deepEqual(laptop.log.map((each) => each.sha256), sent);
  }
});

test("a piece that is still recorded waits, and what came after it does not", async () => {
  const shelf = new Memory(), laptop = new Laptop();
  await shelf.add({ name: "live", job: "j", kind: "sound", done: false });
  await file(shelf, "photo");
  assert.equal(await new Sender(shelf, laptop.deliver).round(), "done");
  assert.deepEqual(laptop.log.map((each) => each.name), ["photo"]);
  assert.equal(shelf.items.size, 1);
});

test("what is refused for good stays with its line and is not sent again", async () => {
  const shelf = new Memory(), laptop = new Laptop(), heard = [];
  laptop.bad.set("zip", 415);
  await file(shelf, "zip");
  await file(shelf, "after");
  const sender = new Sender(shelf, laptop.deliver, (what, item, line) => heard.push([what, item.name, line]));
  assert.equal(await sender.round(), "done");
  assert.deepEqual(heard, [["refused", "zip", "no such kind"], ["confirmed", "after", ""]]);
  const [kept] = await shelf.all();
  assert.equal(kept.refused, "no such kind");
  laptop.bad.clear();
  assert.equal(await sender.round(), "done");
  assert.equal(shelf.items.size, 1);
  await shelf.put({ ...kept, refused: "" });
  await sender.round();
  assert.equal(shelf.items.size, 0);
});

test("a job that takes nothing now does not hold up the others", async () => {
  const shelf = new Memory(), laptop = new Laptop();
  laptop.shut.add("gone");
  for (let each = 0; each < 6; each += 1) await file(shelf, `gone ${each}`, "gone");
  await file(shelf, "here", "here");
  let asked = 0;
  const sender = new Sender(shelf, (...given) => { asked += 1; return laptop.deliver(...given); });
  assert.equal(await sender.round(), "later");
  assert.deepEqual(laptop.log.map((each) => each.name), ["here"]);
  assert.equal(asked, 3);
  laptop.shut.clear();
  assert.equal(await sender.round(), "done");
  assert.equal(laptop.log.length, 7);
});

test("who is not let in any more keeps all of it", async () => {
  const shelf = new Memory();
  await file(shelf, "a");
  await file(shelf, "b");
  assert.equal(await new Sender(shelf, async () => ({ status: 401, answer: null })).round(), "out");
  assert.equal(shelf.items.size, 2);
});

test("two rounds at once are one", async () => {
  const shelf = new Memory(), laptop = new Laptop();
  await file(shelf, "a");
  const sender = new Sender(shelf, laptop.deliver);
  assert.deepEqual(await Promise.all([sender.round(), sender.round()]), ["done", "busy"]);
  assert.equal(laptop.log.length, 1);
});

test("what a closed page has left is a piece that ends with its last part, and a live one is left alone", async () => {
  const shelf = new Memory(), now = Date.parse("2026-05-14T15:01:00Z");
  const begun = { job: "j", kind: "sound", recording_id: "r", at: "2026-05-14T15:00:00Z", from: 40, done: false };
  const left = await shelf.add({ ...begun, touched: now - 52000 }), live = await shelf.add({ ...begun, touched: now - 1000 });
  await shelf.append({ ...shelf.items.get(left) }, 0, new ArrayBuffer(4));
  const empty = await shelf.add({ ...begun, touched: now - 52000 });
  const own = await shelf.add({ ...begun, touched: now - 52000 });
  assert.equal(await settle(shelf, new Set([own]), now), true);
  assert.equal(shelf.items.get(own).done, false);
  assert.deepEqual([shelf.items.get(left).done, shelf.items.get(left).to], [true, 48]);
  assert.equal(shelf.items.get(live).done, false);
  assert.equal(shelf.items.has(empty), false);
});

test("a file that takes long to lay is not sent before its last part", async () => {
  const shelf = new Memory(), laptop = new Laptop(), sender = new Sender(shelf, laptop.deliver), whole = randomBytes(8);
  async function* slow() {
    yield new Uint8Array(whole.subarray(0, 4)).buffer;
    assert.equal(await settle(shelf, new Set(), Date.now() + 60000), false);
    await sender.round();
    assert.deepEqual([laptop.log.length, shelf.items.size], [0, 1]);
    yield new Uint8Array(whole.subarray(4)).buffer;
  }
  await lay(shelf, { name: "photo", job: "j", kind: "photo" }, slow());
  await sender.round();
  assert.deepEqual(laptop.log.map((each) => each.sha256), [createHash("sha256").update(whole).digest("hex")]);
});

test("each part that is laid says that the page is there", async (t) => {
  let now = 1000;
  t.mock.method(Date, "now", () => now);
  const shelf = new Memory();
  async function* slow() {
    yield new ArrayBuffer(4);
    now = 10000;
    yield new ArrayBuffer(4);
    assert.equal((await shelf.all())[0].touched, 10000);
  }
  await lay(shelf, { name: "photo", job: "j", kind: "photo" }, slow());
});

test("a file that another page took away while it was laid is told, and none of it is sent", async () => {
  const shelf = new Memory(), laptop = new Laptop();
  async function* taken() {
    yield new ArrayBuffer(4);
    await shelf.remove((await shelf.all())[0].id);
    yield new ArrayBuffer(4);
  }
  await assert.rejects(lay(shelf, { name: "photo", job: "j", kind: "photo" }, taken()), /cut off; choose it again/);
  await new Sender(shelf, laptop.deliver).round();
  assert.deepEqual([shelf.items.size, laptop.log.length], [0, 0]);
});

test("a file that could not be read to its end is removed later, not sent", async () => {
  const shelf = new Memory(), laptop = new Laptop();
  async function* unreadable() { yield new ArrayBuffer(4); throw new Error("the card was taken out"); }
  await assert.rejects(lay(shelf, { name: "photo", job: "j", kind: "photo" }, unreadable()), /the card was taken out/);
  await settle(shelf, new Set(), Date.now() + 60000);
  await new Sender(shelf, laptop.deliver).round();
  assert.deepEqual([shelf.items.size, laptop.log.length], [0, 0]);
});

test("what another tab has sent and removed is neither sent again nor brought back", async () => {
  const shelf = new Memory(), asked = [];
  await file(shelf, "a");
  await file(shelf, "b");
  const deliver = async (item) => {
    asked.push(item.name);
    for (const { id } of await shelf.all()) await shelf.remove(id);
    return { status: 400, answer: null };
  };
  assert.equal(await new Sender(shelf, deliver).round(), "done");
  assert.deepEqual([asked, shelf.items.size], [["a"], 0]);
});

// A microphone that answers when it is told to, and a recorder that gives the sound it is given.
class Machine extends EventTarget {
  static isTypeSupported() { return true; }
  static made = [];
  constructor() { super(); Object.assign(this, { mimeType: "audio/webm", state: "inactive" }); Machine.made.push(this); }
  start() { this.state = "recording"; this.dispatchEvent(new Event("start")); }
  stop() { this.state = "inactive"; this.dispatchEvent(new Event("stop")); }
  give(size) { this.dispatchEvent(Object.assign(new Event("dataavailable"), { data: new Blob([new Uint8Array(size)]) })); }
}

function microphone(t) {
  const asked = [];
  const mediaDevices = { getUserMedia: () => new Promise((resolve, reject) => asked.push({ resolve, reject })) };
  Object.defineProperty(globalThis, "navigator", { value: { mediaDevices }, configurable: true });
  globalThis.MediaRecorder = Machine;
  Machine.made = [];
  t.after(() => { delete globalThis.navigator; delete globalThis.MediaRecorder; });
  return { asked, stream: { getAudioTracks: () => [], getTracks: () => [] } };
}

const recorderOf = (shelf) => new Recorder(shelf, "j", {
  changed: () => {}, trouble: (error) => { throw error; }, spoken: (from, to) => (to >= from ? ["R one is in"] : []),
});

test("a double tap on Record makes one recording, and a refusal leaves it to be tried again", async (t) => {
  const { asked, stream } = microphone(t), recorder = recorderOf(new Memory());
  t.after(() => recorder.stop());
  const denied = recorder.start();
  asked[0].reject(new Error("not allowed"));
  await assert.rejects(denied, /not allowed/);
  const taps = [recorder.start(), recorder.start()];
  assert.equal(asked.length, 2);
  asked[1].resolve(stream);
  await Promise.all(taps);
  await recorder.start();
  assert.deepEqual([asked.length, Machine.made.length], [2, 1]);
});

test("a piece that its page did not live to end has what the phone said meanwhile", async (t) => {
  const { asked, stream } = microphone(t), shelf = new Memory(), recorder = recorderOf(shelf);
  t.after(() => recorder.stop());
  const started = recorder.start();
  asked[0].resolve(stream);
  await started;
  const { piece } = recorder;
  Machine.made[0].give(4);
  while (!piece.parts) await new Promise((resolve) => setTimeout(resolve, 1));
  await settle(shelf, new Set(), Date.now() + 60000);
  const [left] = await shelf.all();
  assert.deepEqual([left.done, left.spoken], [true, ["R one is in"]]);
});

test("each answer is read by a voice of its own language that is on the device, or not at all", () => {
  const spoken = [];
  const voices = [
    { lang: "es-MX", localService: false }, { lang: "en-US", localService: true }, { lang: "es_US", localService: true },
  ];
  globalThis.SpeechSynthesisUtterance = class extends EventTarget { constructor(words) { super(); this.words = words; } };
  globalThis.speechSynthesis = {
    getVoices: () => voices,
    speak: (utterance) => { spoken.push([utterance.words, utterance.lang]); queueMicrotask(() => utterance.dispatchEvent(new Event("end"))); },
  };
  const voice = new Voice(() => false);
  voice.say("Tramo 2: largo 34 pies.", "es");
  assert.deepEqual(spoken, [["Tramo 2: largo 34 pies.", "es_US"]]);
  voice.now = null;
  voice.say("Run 2: length 34 feet.", "en");
  assert.deepEqual(spoken.at(-1), ["Run 2: length 34 feet.", "en-US"]);
  voices.pop();
  voice.now = null;
  voice.say("Tramo 2: largo 34 pies.", "es");
  assert.equal(spoken.length, 2);
});
