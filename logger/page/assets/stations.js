// Every recorder on this machine, side by side.

import { Curve } from "./curve.js";
import { Stream } from "./stream.js";
import { clock, moment, put, troubles } from "./words.js";

const board = document.getElementById("stations");
const cards = new Map();
const waiting = new Set();
let link = "opening", due = false;

new Stream("", (station) => {
  if (station.gone) cards.get(station.name)?.remove();
  if (station.gone) cards.delete(station.name);
  else waiting.add(station);
  schedule();
}, (news) => {
  link = news;
  schedule();
});

function schedule() {
  if (due) return;
  due = true;
  requestAnimationFrame(draw);
}

function draw() {
  due = false;
  document.body.dataset.link = link;
  for (const station of waiting) {
    if (!cards.has(station.name)) cards.set(station.name, new Card(station.name));
    cards.get(station.name).draw(station);
  }
  waiting.clear();
  document.getElementById("none").hidden = cards.size > 0;
  put(document.getElementById("troubles"), troubles(link));
}

class Card {
  constructor(name) {
    this.element = document.getElementById("card").content.firstElementChild.cloneNode(true);
    this.element.dataset.station = name;
    this.link = this.element.querySelector("a");
    this.link.href = `bench?station=${encodeURIComponent(name)}`;
    this.curve = new Curve(this.at("canvas"));
    this.curve.small = true;
    this.curve.onresize = () => this.station && this.draw(this.station);
    board.append(this.element);
  }

  at(selector) {
    return this.element.querySelector(selector);
  }

  draw(station) {
    this.station = station;
    const state = station.state;
    put(this.link, state.title || "untitled");
    if (state.phase === undefined) {
      put(this.at(".word"), "ready");
      return;
    }
    const { figure, caption, next } = moment(state);
    this.element.dataset.phase = state.phase;
    this.element.dataset.word = state.word;
    put(this.at(".word"), state.word_text || state.word);
    put(this.at(".clock"), clock(state.clock_s));
    put(this.at(".figure"), figure);
    put(this.at(".figure-name"), [caption, next].filter(Boolean).join(" "));
    put(this.at(".verdict"), state.phase === "done" && state.verdict ? state.verdict.text : "");
    put(this.at(".troubles"), troubles("live", state.devices));
    this.curve.draw(state, station.rows);
  }

  remove() {
    this.curve.leave();
    this.element.remove();
  }
}
