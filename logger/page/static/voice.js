// Reads figures and answers aloud, softly, by a voice that is on this device; nothing is said by a voice elsewhere.
const SOFTLY = 0.5;
const STALE_MS = 20000; // what was heard so long ago is read back no more
const LOOK_MS = 200;
const KEPT_S = 120; // how long it is known what was said when: a piece of sound is no longer than that

export class Voice {
  // `speaking()` tells whether somebody talks just now: then it waits.
  constructor(speaking) { Object.assign(this, { speaking, waiting: [], said: [], on: true, now: null }); }

  // `language` is "en" or "es": words of one are never read by a voice of the other.
  voice(language) {
    const local = globalThis.speechSynthesis?.getVoices().filter((each) => each.localService) ?? [];
    return local.find((each) => each.lang.toLowerCase().split(/[-_]/)[0] === language) ?? null;
  }

  say(words, language) {
    if (!this.on || !this.voice(language)) return;
    this.waiting.push({ words, language, since: Date.now() });
    this.#next();
  }

  quiet() {
    this.waiting = [];
    globalThis.speechSynthesis?.cancel();
  }

  #next() {
    if (this.now) return;
    this.waiting = this.waiting.filter((each) => Date.now() - each.since < STALE_MS && this.voice(each.language));
    if (!this.waiting.length) return;
    if (this.speaking()) { clearTimeout(this.timer); this.timer = setTimeout(() => this.#next(), LOOK_MS); return; }
    const { words, language } = this.waiting.shift();
    const utterance = new SpeechSynthesisUtterance(words), voice = this.voice(language);
    Object.assign(utterance, { voice, lang: voice.lang, volume: SOFTLY });
    const over = () => { if (this.now) this.now.to = performance.now() / 1000; this.now = null; this.#next(); };
    utterance.addEventListener("end", over);
    utterance.addEventListener("error", over);
    this.now = { from: performance.now() / 1000, to: null, words };
    this.said = [...this.said.filter((each) => each.from > this.now.from - KEPT_S), this.now];
    speechSynthesis.speak(utterance);
  }

  // What it said between two moments of the page's clock, each as `1.2-3.4 words`, seconds after the first.
  between(from, to) {
    const seconds = (moment) => Math.max(0, moment - from).toFixed(2);
    return this.said
      .filter((each) => each.from < to && (each.to ?? Infinity) > from)
      .map((each) => `${seconds(each.from)}-${seconds(Math.min(each.to ?? to, to))} ${each.words.slice(0, 300)}`);
  }
}
