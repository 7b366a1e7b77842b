// SHA-256 (FIPS 180-4) of bytes that come in parts. Browsers have it built in for secure pages alone, and whole buffers.
const K = new Int32Array(64);
const FIRST = new Int32Array(8);

for (let number = 2, count = 0; count < 64; number += 1) {
  let prime = true;
  for (let by = 2; by * by <= number; by += 1) if (number % by === 0) prime = false;
  if (!prime) continue;
  if (count < 8) FIRST[count] = Math.floor((Math.sqrt(number) % 1) * 2 ** 32);
  K[count] = Math.floor((Math.cbrt(number) % 1) * 2 ** 32);
  count += 1;
}

const turn = (word, by) => (word >>> by) | (word << (32 - by));

export class Sha256 {
  #state = Int32Array.from(FIRST);
  #block = new Uint8Array(64);
  #words = new Int32Array(64);
  #held = 0;
  #count = 0;

  add(bytes) {
    this.#count += bytes.length;
    for (let at = 0; at < bytes.length; ) {
      const part = bytes.subarray(at, at + 64 - this.#held);
      this.#block.set(part, this.#held);
      this.#held += part.length;
      at += part.length;
      if (this.#held === 64) this.#mix();
    }
    return this;
  }

  hex() {
    const bits = new DataView(new ArrayBuffer(8));
    bits.setUint32(0, Math.floor(this.#count / 2 ** 29));
    bits.setUint32(4, (this.#count * 8) >>> 0);
    this.add(Uint8Array.of(0x80));
    while (this.#held !== 56) this.add(Uint8Array.of(0));
    this.add(new Uint8Array(bits.buffer));
    return [...this.#state].map((word) => (word >>> 0).toString(16).padStart(8, "0")).join("");
  }

  #mix() {
    const w = this.#words, view = new DataView(this.#block.buffer);
    for (let i = 0; i < 16; i += 1) w[i] = view.getInt32(4 * i);
    for (let i = 16; i < 64; i += 1) {
      const a = w[i - 15], b = w[i - 2];
      w[i] = (w[i - 16] + w[i - 7] | 0) + (turn(a, 7) ^ turn(a, 18) ^ (a >>> 3)) + (turn(b, 17) ^ turn(b, 19) ^ (b >>> 10));
    }
    let [a, b, c, d, e, f, g, h] = this.#state;
    for (let i = 0; i < 64; i += 1) {
      const one = (h + (turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)) + ((e & f) ^ (~e & g)) + K[i] + w[i]) | 0;
      const two = ((turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)) + ((a & b) ^ (a & c) ^ (b & c))) | 0;
      h = g; g = f; f = e; e = (d + one) | 0;
      d = c; c = b; b = a; a = (one + two) | 0;
    }
    [a, b, c, d, e, f, g, h].forEach((word, i) => { this.#state[i] += word; });
    this.#held = 0;
  }
}
