// What the phone has made and the laptop has not confirmed: kept in IndexedDB, and sent in order until it is.
import { Sha256 } from "./sha256.js";

const ABANDONED_MS = 10000; // a piece that nobody added to for so long is of a page that is gone
const TURNS = 2; // of what a job does not take now, before the rest of it waits for the next round
const request = (asked) => new Promise((resolve, reject) => {
  asked.onsuccess = () => resolve(asked.result);
  asked.onerror = () => reject(asked.error);
});

// Items, with their bytes in parts, in the order in which they were begun.
export class Shelf {
  static async open(name = "fallbook") {
    const asked = indexedDB.open(name, 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("items", { keyPath: "id", autoIncrement: true });
      asked.result.createObjectStore("parts");
    };
    const shelf = new Shelf();
    shelf.base = await request(asked);
    return shelf;
  }

  #in(stores, mode, work) {
    return new Promise((resolve, reject) => {
      const change = this.base.transaction(stores, mode, { durability: "strict" });
      let result;
      change.oncomplete = () => resolve(result?.result);
      change.onerror = change.onabort = () => reject(change.error);
      result = work(...stores.map((store) => change.objectStore(store)));
    });
  }

  add(item) { return this.#in(["items"], "readwrite", (items) => items.add(item)); }

  put(item) { return this.#in(["items"], "readwrite", (items) => items.put(item)); }

  // False where the piece is none any more: another page took this one for gone while it slept, and ended it.
  async append(item, number, part) {
    let open = false;
    await this.#in(["items", "parts"], "readwrite", (items, parts) => {
      items.get(item.id).onsuccess = ({ target }) => {
        open = target.result !== undefined && !target.result.done;
        if (open) { items.put(item); parts.put(part, [item.id, number]); }
      };
    });
    return open;
  }

  remove(id) {
    return this.#in(["items", "parts"], "readwrite", (items, parts) => { items.delete(id); parts.delete(IDBKeyRange.bound([id, 0], [id, Infinity])); });
  }

  async has(id) { return await this.#in(["items"], "readonly", (items) => items.count(id)) > 0; }

  all() { return this.#in(["items"], "readonly", (items) => items.getAll()); }

  parts(id) { return this.#in(["parts"], "readonly", (parts) => parts.getAll(IDBKeyRange.bound([id, 0], [id, Infinity]))); }
}

const laying = new Set(); // what this page has not laid to the end yet

// A whole file at once; pieces of sound that are being recorded are added part by part.
export async function lay(shelf, item, parts) {
  item.done = false;
  item.touched = Date.now();
  item.id = await shelf.add(item);
  laying.add(item.id);
  try {
    let number = 0;
    for await (const part of parts) {
      item.touched = Date.now();
      if (!(await shelf.append(item, number++, part))) throw new Error("it was cut off; choose it again");
    }
    item.done = true;
    await shelf.put(item);
  } finally { laying.delete(item.id); }
}

// What a page that was closed while it recorded has left is a piece that ends with its last part; `live` are one's own.
// A file of which it laid only a part is worth nothing, and goes. True while one may yet turn out to be such.
export async function settle(shelf, live = new Set(), now = Date.now()) {
  let open = false;
  for (const item of await shelf.all()) {
    if (item.done || live.has(item.id) || laying.has(item.id)) continue;
    if (now - item.touched < ABANDONED_MS) { open = true; continue; }
    const empty = (await shelf.parts(item.id)).length === 0;
    if (empty || !item.recording_id) await shelf.remove(item.id);
    else await shelf.put({ ...item, done: true, to: item.from + Math.max(0.001, (item.touched - Date.parse(item.at)) / 1000) });
  }
  return open;
}

export async function digest(parts) {
  const sha = new Sha256();
  let size = 0;
  for (const part of parts) {
    sha.add(new Uint8Array(part));
    size += part.byteLength;
    await null; // other work goes on between parts
  }
  return { sha256: sha.hex(), size };
}

// "confirmed", "refused" for good, "out" where this browser is not let in any more, else "later".
export function verdict(status, answer, sha256, size) {
  if (status === 200 && answer?.sha256 === sha256 && answer.bytes === size) return "confirmed";
  if (status === 401) return "out";
  return [400, 413, 415].includes(status) ? "refused" : "later";
}

export class Sender {
  // `deliver(item, parts, sha256)` gives { status, answer }, and throws where the laptop is out of reach.
  // `told(what, item, line, answer)` hears what became of each.
  constructor(shelf, deliver, told = () => {}) { Object.assign(this, { shelf, deliver, told, busy: false }); }

  // Send what waits. "done" where nothing is left, "later" where something is; "away" and "out" as above.
  async round() {
    if (this.busy) return "busy";
    this.busy = true;
    try { return await this.#round(); } finally { this.busy = false; }
  }

  async #round() {
    const failed = new Map();
    let left = false;
    for (const item of await this.shelf.all()) {
      if (!item.done || item.refused) continue;
      if ((failed.get(item.job) ?? 0) >= TURNS) { left = true; continue; }
      const parts = await this.shelf.parts(item.id);
      if (!(await this.shelf.has(item.id))) continue; // another tab has sent it
      const { sha256, size } = await digest(parts);
      let got;
      try { got = await this.deliver(item, parts, sha256); } catch { return "away"; }
      const what = verdict(got.status, got.answer, sha256, size);
      const line = got.answer?.line ?? got.answer?.error ?? "";
      if (what === "out") return "out";
      if (what === "confirmed") await this.shelf.remove(item.id);
      if (what === "refused" && await this.shelf.has(item.id)) await this.shelf.put({ ...item, refused: line || `answer ${got.status}` });
      if (what === "later") { left = true; failed.set(item.job, (failed.get(item.job) ?? 0) + 1); }
      this.told(what, item, line, got.answer);
    }
    return left ? "later" : "done";
  }
}
