// Numbers and moments in the words that every view shows them in.

export function clock(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

export function number(value, decimals = 0) {
  const text = Math.abs(value).toFixed(decimals);
  return value < 0 && Number(text) !== 0 ? `−${text}` : text;
}

// The number that matters now, what it is of, and in a pause where the next pour goes to.
export function moment(state) {
  const { phase, shot, stage, next_in_s, to_go_g } = state;
  const total_g = state.total_g ?? null;
  if (phase === "waiting") return waiting(state);
  if (shot && phase !== "done") {
    return { figure: number(state.poured_g, 1), caption: total_g === null ? "g" : `of ${number(total_g)} g`, next: "" };
  }
  if (phase === "pause" && next_in_s !== null && next_in_s > 0) {
    return { figure: number(Math.ceil(next_in_s)), caption: "seconds", next: stage ? `to ${number(stage.to_g)} g` : "" };
  }
  if (phase === "drawdown" && next_in_s !== null && next_in_s > 0) {
    return { figure: number(Math.ceil(next_in_s)), caption: "s to the end", next: "" };
  }
  if (to_go_g === null || phase === "done" || phase === "drawdown") {
    return { figure: number(state.poured_g, 0), caption: "g in all", next: "" };
  }
  const rounded = Math.round(to_go_g);
  if (rounded < 0) return { figure: number(-rounded), caption: "g too much", next: "" };
  return { figure: number(rounded), caption: "g to go", next: "" };
}

function waiting(state) {
  if (state.shot && state.total_g !== null) return { figure: number(state.total_g), caption: "g in the cup", next: "" };
  if (state.stage) return { figure: number(state.stage.to_g), caption: "g first", next: "" };
  return { figure: "", caption: "", next: "" };
}

export function pace(rate) {
  if (rate === null || rate === undefined) return "no pace yet";
  if (Math.abs(rate) <= 0.5) return "even pace";
  return rate > 0 ? "too fast" : "too slow";
}

// What is wrong with the link to the server, or with a device; the gravest first, empty when all is well.
export function troubles(link, devices = []) {
  if (link === "lost") return "No link to the recorder. What is shown is old.";
  const broken = devices.filter((device) => device.state !== "fresh");
  return broken.map((device) => `${device.channel}: ${device.state === "lost" ? "link lost" : "silent"}, ${number(device.silent_s)} s`).join(" · ");
}

const SURE = { sure: "Sure", likely: "Likely", unsure: "Not sure" };

export function sure(verdict) {
  return verdict.why ? `${SURE[verdict.sure]}: ${verdict.why}` : SURE[verdict.sure];
}

export function put(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

// One element for each item, the existing ones kept.
export function putList(list, items, make, fill) {
  while (list.children.length > items.length) list.lastElementChild.remove();
  while (list.children.length < items.length) list.append(make());
  items.forEach((item, place) => fill(list.children[place], item));
}

export function putResult(state) {
  const result = document.getElementById("result");
  const verdict = state.phase === "done" || state.phase === "waiting" ? state.verdict : null;
  result.hidden = !verdict;
  document.body.dataset.result = Boolean(verdict);
  if (!verdict) return;
  put(document.getElementById("verdict"), verdict.text);
  put(document.getElementById("change"), verdict.change);
  document.getElementById("change-first").hidden = !verdict.change;
  put(document.getElementById("sure"), sure(verdict));
}

export function putWarnings(state) {
  const warnings = state.phase === "waiting" ? state.warnings ?? [] : [];
  putList(document.getElementById("warnings"), warnings, () => document.createElement("li"), put);
}
