// The coach's view: the whole curve, and what stands around it.

import { Curve } from "./curve.js";
import { View } from "./view.js";
import { clock, moment, number, put, putList, putResult, putWarnings, troubles } from "./words.js";

const at = (id) => document.getElementById(id);
const curve = new Curve(at("curve"));
let shown = null;

const view = new View("pour", (station) => { shown = station; }, draw);
curve.onresize = () => view.schedule();

function draw() {
  const state = shown?.state ?? {};
  document.body.dataset.link = view.link;
  put(at("title"), state.title || "evencup");
  put(at("troubles"), shown?.gone ? "This recorder has ended." : troubles(view.link, state.devices));
  put(at("notes"), [view.link === "ended" ? "The recorder has ended." : "", view.awake].filter(Boolean).join(" "));
  if (state.phase === undefined) {
    put(at("word"), view.link === "live" ? "ready" : "…");
    curve.draw({}, []);
    return;
  }
  drawMoment(state);
  putResult(state);
  putWarnings(state);
  curve.draw(state, shown.rows);
  drawStages(state);
  drawWater(state);
  drawDevices(state);
  putList(at("told"), state.told ?? [], item, put);
  document.body.dataset.time = state.time_s;
}

function drawMoment(state) {
  const { figure, caption, next } = moment(state);
  document.body.dataset.phase = state.phase;
  document.body.dataset.word = state.word;
  put(at("word"), state.word_text || state.word);
  put(at("clock"), clock(state.clock_s));
  at("due").parentElement.hidden = state.phase === "done";
  put(at("figure-name"), state.shot ? "In the cup" : "Poured");
  put(at("poured"), `${number(state.poured_g, 1)} g`);
  put(at("flow"), `${number(state.flow_g_s, 1)} g/s`);
  const seconds = caption.startsWith("s");
  put(at("due-name"), seconds ? (next ? `Then ${next}` : "To the end") : state.shot ? "To go" : caption.replace(/^g /, "") || "To go");
  put(at("due"), state.shot ? `${number(state.to_go_g ?? 0, 1)} g` : figure ? `${figure} ${seconds ? "s" : "g"}` : "–");
}

const item = () => document.createElement("li");

function drawStages(state) {
  const stages = state.stages ?? [];
  at("stages-part").hidden = !stages.length;
  put(at("plan-change"), state.change ? `${clock(state.change.clock_s)}  ${state.change.text}` : "");
  putList(at("stages"), stages, row, (line, stage) => {
    line.classList.toggle("changed", stage.changed);
    line.classList.toggle("now", stage.number === state.stage?.number && state.phase !== "done");
    const flow = stage.flow_g_s === null ? "" : `${number(stage.flow_g_s, 1)} g/s`;
    const name = stage.changed ? `${stage.name} (changed)` : stage.name;
    [name, clock(stage.start_s), clock(stage.end_s), `${number(stage.to_g)} g`, flow].forEach((text, place) =>
      put(line.children[place], text));
  });
}

function row() {
  const line = document.createElement("tr");
  const name = document.createElement("th");
  name.scope = "row";
  line.append(name, ...Array.from({ length: 4 }, () => document.createElement("td")));
  return line;
}

function drawWater(state) {
  const water = state.water ?? [];
  putList(at("water"), water.length ? water : [null], item, (line, each) => {
    if (!each) return put(line, "No thermometer.");
    line.dataset.ready = each.ready;
    const words = each.text || (each.ready === null ? "" : each.ready ? "ready" : "not ready");
    put(line, `${each.channel}: ${number(each.water_c, 1)} °C${words ? `, ${words}` : ""}`);
  });
}

function drawDevices(state) {
  putList(at("devices"), state.devices ?? [], item, (line, each) => {
    line.dataset.state = each.state;
    const words = { fresh: "well", stale: `silent for ${number(each.silent_s)} s`, lost: `link lost, ${number(each.silent_s)} s` };
    put(line, `${each.channel}: ${words[each.state]}`);
  });
}
