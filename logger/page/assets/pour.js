// The brewer's view: one thing at a time, from 1.5 m away.

import { Sound } from "./sound.js";
import { View } from "./view.js";
import { clock, moment, number, pace, put, putResult, putWarnings, troubles } from "./words.js";

const at = (id) => document.getElementById(id);
const sound = new Sound(at("sound"));
let shown = null;

const view = new View("bench", (station) => {
  sound.hear(station.state, station.late_s, station.gap_s);
  shown = station.gone ? null : station.state;
}, draw);

function draw() {
  const state = shown;
  document.body.dataset.link = view.link;
  if (!state || state.phase === undefined) {
    put(at("word"), view.link === "lost" ? "no link" : view.link === "live" ? "ready" : "…");
    put(at("caption"), state?.title ?? "");
    drawNotes("none", []);
    return;
  }
  drawMoment(state);
  putResult(state);
  putWarnings(state);
  drawNotes(state.phase, state.devices);
  document.body.dataset.time = state.time_s;
}

function drawMoment(state) {
  const old = view.link === "lost" && state.phase !== "done";
  const { figure, caption, next } = moment(state);
  document.body.dataset.phase = state.phase;
  document.body.dataset.word = old ? "none" : state.word;
  const word = old ? "no link" : state.word_text || state.word;
  put(at("word"), word);
  at("word").dataset.length = word.length > 9 ? "long" : word.length > 6 ? "some" : word.length > 4 ? "six" : "four";
  put(at("figure"), old ? "–" : figure);
  at("figure").dataset.length = figure.length > 3 ? "long" : "short";
  put(at("caption"), old ? "" : caption);
  put(at("next"), old ? "" : next);
  at("next").dataset.length = next.length > 8 ? "long" : "short";
  put(at("water"), state.phase === "waiting" && !old ? waterWords(state.water) : "");
  put(at("clock"), clock(state.clock_s));
  drawPace(old ? null : state.rate, state);
}

// Whether the water is ready, of the thermometer that matters first.
function waterWords(water) {
  const [first] = water ?? [];
  if (!first || first.ready === null) return "";
  return `${first.channel} ${number(first.water_c, 1)} °C: ${first.text || (first.ready ? "ready" : "not ready")}`;
}

function drawPace(rate, state) {
  const known = rate !== null && rate !== undefined;
  at("pace").dataset.known = known;
  at("pace").dataset.shot = state.shot && state.phase === "pouring";
  at("pace").dataset.off = known && Math.abs(rate) > 0.5;
  const label = state.shot ? `${number(state.flow_g_s, 1)} g/s` : `Pace: ${pace(rate)}`;
  if (at("pace").ariaLabel !== label) at("pace").ariaLabel = label;
  at("needle").style.left = `${50 + 50 * Math.max(-1, Math.min(1, rate ?? 0))}%`;
  put(at("flow"), state.shot ? `${number(state.flow_g_s, 1)} g/s` : "");
}

function drawNotes(phase, devices) {
  put(at("troubles"), troubles(view.link, devices));
  const notes = [view.link === "ended" ? "The recorder has ended." : "", view.awake];
  put(at("notes"), phase === "pouring" ? "" : notes.filter(Boolean).join(" "));
  sound.offer(phase !== "pouring");
}
