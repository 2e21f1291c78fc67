// Calls for the ear: a tone of its own for each kind, apart in pitch and in rhythm, and the browser's own speech.

const OLD_S = 1;

// frequency in Hz, start and length in s
const TONES = {
  next: [[523, 0, 0.1]],
  count: [[660, 0, 0.06]],
  start: [[660, 0, 0.12], [990, 0.14, 0.24]],
  slower: [[392, 0, 0.09], [330, 0.14, 0.09], [262, 0.28, 0.14]],
  faster: [[523, 0, 0.06], [659, 0.09, 0.06], [784, 0.18, 0.06], [1047, 0.27, 0.1]],
  soon: [[880, 0, 0.06], [880, 0.12, 0.06]],
  stop: [[1319, 0, 0.5]],
  change: [[440, 0, 0.12], [440, 0.2, 0.12], [554, 0.4, 0.16]],
  done: [[523, 0, 0.16], [659, 0.18, 0.16], [784, 0.36, 0.32]],
  warning: [[220, 0, 0.25], [220, 0.35, 0.25]],
};
// More than are ever due at one time: older ones do not come again.
const REMEMBERED = 64;
const AT_ONCE = new Set(["start", "stop", "slower", "faster", "count", "soon"]);

export class Sound {
  constructor(button) {
    this.button = button;
    this.said = new Set();
    this.take = null;
    this.wanted = false;
    this.context = null;
    const unlock = () => this.unlock();
    for (const name of ["pointerup", "keydown"]) addEventListener(name, unlock);
  }

  // Browsers are mute until they are touched once.
  unlock() {
    if (!this.context) {
      this.context = new AudioContext({ latencyHint: "interactive" });
      this.context.addEventListener("statechange", () => this.offer(this.mayOffer));
      if ("speechSynthesis" in window) speechSynthesis.speak(new SpeechSynthesisUtterance(""));
    }
    this.context.resume();
    this.offer(this.mayOffer);
  }

  get isOpen() {
    return this.context?.state === "running";
  }

  offer(may) {
    this.mayOffer = may;
    this.button.hidden = !may || !this.wanted || this.isOpen;
  }

  // Give the calls that have become due, each once; what is seen too late stays unsaid.
  //
  // What the last news did not hold is as new as the time since then; after a break the call's own time tells.
  hear(state, late_s, gap_s) {
    const sound = state.sound;
    if (!sound) return;
    this.wanted = sound.volume > 0 && (sound.tones || sound.speech);
    if (state.take !== this.take) {
      this.take = state.take;
      this.said.clear();
    }
    for (const call of state.calls ?? []) {
      if (this.said.has(call.id) || call.time_s > state.time_s) continue;
      this.said.add(call.id);
      if (this.said.size > REMEMBERED) this.said.delete(this.said.values().next().value);
      const old = late_s > OLD_S || (gap_s > OLD_S && state.time_s - call.time_s > OLD_S);
      if (old || !this.wanted) continue;
      if (sound.tones) this.play(call.kind, sound.volume);
      if (sound.speech && call.text) this.speak(call, sound);
    }
  }

  play(kind, volume) {
    if (!this.isOpen) return;
    const now_s = this.context.currentTime;
    for (const [hertz, start_s, length_s] of TONES[kind] ?? []) {
      const tone = new OscillatorNode(this.context, { type: "triangle", frequency: hertz });
      const gain = new GainNode(this.context, { gain: 0 });
      const from_s = now_s + start_s, until_s = from_s + length_s;
      gain.gain.setValueAtTime(0, from_s);
      gain.gain.linearRampToValueAtTime(volume, from_s + 0.008);
      gain.gain.setValueAtTime(volume, until_s - 0.02);
      gain.gain.linearRampToValueAtTime(0, until_s);
      tone.connect(gain).connect(this.context.destination);
      tone.start(from_s);
      tone.stop(until_s);
      tone.onended = () => gain.disconnect();
    }
  }

  speak(call, sound) {
    if (!("speechSynthesis" in window)) return;
    if (AT_ONCE.has(call.kind)) speechSynthesis.cancel();
    const words = new SpeechSynthesisUtterance(call.text);
    words.lang = sound.language;
    words.volume = sound.volume;
    const voice = speechSynthesis.getVoices().find((each) => each.name === sound.voice);
    if (voice) words.voice = voice;
    speechSynthesis.speak(words);
  }
}
