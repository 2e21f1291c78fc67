// The stream of what happens: kept alive, caught up with after any break, and never older than it looks.

const SILENT_MS = 3000; // the server says something each second
const FIRST_WAIT_MS = 250, LONGEST_WAIT_MS = 2000, AFTER_END_MS = 8000;
const CREEP = 1e-4; // of the two clocks against each other, seconds a second: quartz is better

export class Stream {
  // changed(station) is called for every piece of news, linked(link) when that is "live", "lost" or "ended".
  constructor(query, changed, linked) {
    this.query = query;
    this.changed = changed;
    this.linked = linked;
    this.stations = new Map();
    this.link = "opening";
    this.waitMs = FIRST_WAIT_MS;
    this.fastest_s = null; // the least that a message took, in the difference of the two clocks
    this.open();
    setInterval(() => this.watch(), 500);
    const back = () => document.visibilityState === "visible" && this.comeBack();
    document.addEventListener("visibilitychange", back);
    document.addEventListener("resume", back);
    for (const name of ["pageshow", "online", "focus"]) addEventListener(name, back);
  }

  open() {
    clearTimeout(this.retry);
    this.source?.close();
    this.heardMs = performance.now();
    const query = new URLSearchParams(this.query);
    const known = [...this.stations.values()][0];
    if (this.stations.size === 1 && known.id) query.set("since", known.id);
    const source = new EventSource("stream?" + query);
    this.source = source;
    source.onmessage = (event) => this.take(event);
    source.addEventListener("beat", (event) => this.beat(event));
    source.addEventListener("gone", (event) => this.gone(event));
    source.addEventListener("end", () => this.end());
    source.onerror = () => this.again("lost");
  }

  take(event) {
    const news = JSON.parse(event.data);
    const station = this.station(news.station);
    if (event.lastEventId) station.id = event.lastEventId;
    Object.assign(station.state, news.set);
    if (news.first === null) station.rows = news.rows;
    else station.rows.splice(news.first, Infinity, ...news.rows);
    this.hear(news.sent_s, station);
    this.changed(station, news.set);
  }

  beat(event) {
    const news = JSON.parse(event.data);
    this.hear(news.sent_s, this.stations.get(news.station));
  }

  gone(event) {
    const name = JSON.parse(event.data).station;
    const station = this.stations.get(name);
    this.stations.delete(name);
    if (station) this.changed({ ...station, gone: true }, {});
  }

  end() {
    this.again("ended");
  }

  // How late a message is beyond the fastest one: what waited for a sleeping page is old news.
  hear(sent_s, station) {
    const nowMs = performance.now();
    const took_s = nowMs / 1000 - sent_s;
    const crept_s = ((nowMs - this.heardMs) / 1000) * CREEP;
    this.fastest_s = this.fastest_s === null ? took_s : Math.min(this.fastest_s + crept_s, took_s);
    this.heardMs = nowMs;
    if (station) {
      station.late_s = took_s - this.fastest_s;
      station.gap_s = (nowMs - station.heardMs) / 1000;
      station.heardMs = nowMs;
    }
    this.waitMs = FIRST_WAIT_MS;
    this.say("live");
  }

  watch() {
    const silentMs = performance.now() - this.heardMs;
    if (this.link !== "ended" && silentMs > SILENT_MS) this.again("lost");
  }

  comeBack() {
    if (performance.now() - this.heardMs < 1500 && this.link !== "lost") return;
    this.waitMs = FIRST_WAIT_MS;
    this.fastest_s = null; // a clock may have stood still while the machine slept
    this.open();
  }

  again(link) {
    this.source.close();
    this.fastest_s = null;
    if (this.link !== "ended" || link === "ended") this.say(link);
    clearTimeout(this.retry);
    const waitMs = this.link === "ended" ? AFTER_END_MS : this.waitMs;
    this.retry = setTimeout(() => this.open(), waitMs);
    this.heardMs = performance.now() + waitMs;
    this.waitMs = Math.min(2 * this.waitMs, LONGEST_WAIT_MS);
  }

  say(link) {
    if (link === this.link) return;
    this.link = link;
    this.linked(link);
  }

  station(name) {
    if (!this.stations.has(name)) {
      this.stations.set(name, { name, state: {}, rows: [], id: "", late_s: 0, gap_s: Infinity, heardMs: -Infinity });
    }
    return this.stations.get(name);
  }
}
