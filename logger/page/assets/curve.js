// The curve on its corridor, drawn by hand: what was allowed so far, what will be in the coming seconds.

const STEPS_S = [5, 10, 15, 30, 60, 120, 300, 600, 1800];
const STEPS_G = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000];
const LEAST_S = 40, AHEAD_S = 20;

export class Curve {
  constructor(canvas) {
    this.canvas = canvas;
    this.pen = canvas.getContext("2d");
    this.small = false;
    this.onresize = () => {};
    this.watching = new ResizeObserver(() => this.onresize());
    this.watching.observe(canvas);
    this.theme = matchMedia("(prefers-color-scheme: dark)");
    this.repaint = () => {
      this.colours = null;
      this.onresize();
    };
    this.theme.addEventListener("change", this.repaint);
  }

  leave() {
    this.watching.disconnect();
    this.theme.removeEventListener("change", this.repaint);
  }

  // rows: [clock in s, weight in g, low, plan and high of the corridor in g or null]
  draw(state, rows) {
    this.fit();
    this.scale(state, rows);
    const { pen } = this;
    pen.clearRect(0, 0, this.wide, this.high);
    this.axes();
    if (state.phase !== undefined) this.contents(state, rows);
  }

  contents(state, rows) {
    const ahead = state.phase === "done" ? [] : (state.ahead ?? []).filter((each) => each.clock_s + 1 >= state.clock_s);
    const known = rows.filter((row) => row[2] !== null);
    const coming = ahead.map((each) => [each.clock_s, 0, each.low_g, each.plan_g, each.high_g]);
    if (known.length && coming.length) coming.unshift(known.at(-1));
    this.soon(state, coming);
    this.band(known, this.colour("band"), true);
    this.band(coming, this.colour("band"), false);
    this.hatch(coming);
    this.line([...known, ...coming], 3, this.colour("edge"), 1.5, [5, 4]);
    this.steps(state);
    const done = state.clock_s > 0 ? [...rows, [state.clock_s, state.poured_g]] : rows;
    this.line(done, 1, this.colour("curve"), this.small ? 2.5 : 3.5, []);
    this.tip(done.at(-1));
  }

  fit() {
    const ratio = devicePixelRatio || 1;
    const { clientWidth, clientHeight } = this.canvas;
    const width = Math.round(clientWidth * ratio), height = Math.round(clientHeight * ratio);
    if (this.canvas.width !== width || this.canvas.height !== height) {
      this.canvas.width = width;
      this.canvas.height = height;
    }
    this.wide = clientWidth;
    this.high = clientHeight;
    this.pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    this.left = this.small ? 34 : 52;
    this.bottom = this.small ? 20 : 28;
  }

  scale(state, rows) {
    const ahead = state.ahead ?? [];
    const ends_s = [state.end_s ?? 0, (state.clock_s ?? 0) + AHEAD_S, ...(state.stages ?? []).map((stage) => stage.end_s)];
    const most_g = [state.total_g ?? 0, state.poured_g ?? 0, ...ahead.map((each) => each.high_g), ...rows.map((row) => Math.max(row[1], row[4] ?? 0))];
    this.until_s = Math.max(LEAST_S, ...(state.phase === "done" ? [ends_s[0], state.clock_s, rows.at(-1)?.[0] ?? 0] : ends_s)) * 1.02;
    this.until_g = Math.max(20, most_g.reduce((one, other) => Math.max(one, other), 0)) * 1.06;
  }

  x(clock_s) {
    return this.left + (clock_s / this.until_s) * (this.wide - this.left - 10);
  }

  y(weight_g) {
    return this.high - this.bottom - (weight_g / this.until_g) * (this.high - this.bottom - 10);
  }

  colour(name) {
    this.colours ??= getComputedStyle(this.canvas);
    return this.colours.getPropertyValue(`--${name}`);
  }

  axes() {
    const { pen } = this;
    const step_s = STEPS_S.find((step) => this.until_s / step <= this.wide / 90) ?? 3600;
    const step_g = STEPS_G.find((step) => this.until_g / step <= this.high / 50) ?? 2000;
    pen.font = `${this.small ? 12 : 14}px system-ui, sans-serif`;
    pen.lineWidth = 1;
    pen.strokeStyle = this.colour("grid");
    pen.fillStyle = this.colour("quiet");
    pen.textAlign = "center";
    pen.textBaseline = "top";
    for (let at_s = 0; at_s < this.until_s; at_s += step_s) {
      this.stroke([[this.x(at_s), 8], [this.x(at_s), this.high - this.bottom]]);
      pen.fillText(`${Math.floor(at_s / 60)}:${String(at_s % 60).padStart(2, "0")}`, this.x(at_s), this.high - this.bottom + 6);
    }
    pen.textAlign = "right";
    pen.textBaseline = "middle";
    for (let at_g = 0; at_g < this.until_g; at_g += step_g) {
      this.stroke([[this.left, this.y(at_g)], [this.wide - 10, this.y(at_g)]]);
      pen.fillText(this.small ? `${at_g}` : `${at_g} g`, this.left - 6, this.y(at_g));
    }
  }

  soon(state, coming) {
    if (coming.length < 2) return;
    const { pen } = this;
    pen.fillStyle = this.colour("pour");
    const from = this.x(state.clock_s);
    pen.fillRect(from, 8, this.x(coming.at(-1)[0]) - from, this.high - this.bottom - 8);
  }

  band(rows, colour, edged) {
    if (rows.length < 2) return;
    const { pen } = this;
    pen.beginPath();
    rows.forEach((row, place) => pen[place ? "lineTo" : "moveTo"](this.x(row[0]), this.y(row[2])));
    [...rows].reverse().forEach((row) => pen.lineTo(this.x(row[0]), this.y(row[4])));
    pen.closePath();
    pen.fillStyle = colour;
    pen.fill();
    if (!edged) return;
    this.line(rows, 2, this.colour("edge"), 1, []);
    this.line(rows, 4, this.colour("edge"), 1, []);
  }

  // What is still to come is told from what was by its hatching, not by its colour.
  hatch(rows) {
    if (rows.length < 2) return;
    const { pen } = this;
    pen.save();
    pen.beginPath();
    rows.forEach((row, place) => pen[place ? "lineTo" : "moveTo"](this.x(row[0]), this.y(row[2])));
    [...rows].reverse().forEach((row) => pen.lineTo(this.x(row[0]), this.y(row[4])));
    pen.clip();
    pen.strokeStyle = this.colour("edge");
    pen.lineWidth = 1;
    const from = this.x(rows[0][0]), to = this.x(rows.at(-1)[0]), tall = this.high;
    for (let at = from - tall; at < to; at += 8) this.stroke([[at, tall], [at + tall, 0]]);
    pen.restore();
    this.line(rows, 2, this.colour("edge"), 1.5, []);
    this.line(rows, 4, this.colour("edge"), 1.5, []);
  }

  // The plan as it stands, dotted where the corridor is not drawn yet; names where they have room.
  steps(state) {
    const { pen } = this;
    const stages = state.stages ?? [];
    const plan = stages.flatMap((stage) => [[stage.start_s, stage.from_g], [stage.end_s, stage.to_g]]);
    if (plan.length && state.end_s) plan.push([state.end_s, plan.at(-1)[1]]);
    this.line(plan.filter((point, place) => (plan[place + 1] ?? point)[0] >= (state.clock_s ?? 0)), 1, this.colour("quiet"), 1.5, [2, 4]);
    if (this.small) return;
    pen.textAlign = "left";
    pen.textBaseline = "bottom";
    pen.font = "13px system-ui, sans-serif";
    pen.fillStyle = this.colour("quiet");
    let free = 0;
    for (const stage of stages) {
      const at = this.x(stage.start_s) + 4, wide = pen.measureText(stage.name).width;
      if (at < free || at + wide > this.wide) continue;
      pen.fillText(stage.name, at, this.high - this.bottom - 3);
      free = at + wide + 8;
    }
  }

  line(rows, column, colour, width, dash) {
    const { pen } = this;
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    pen.lineJoin = "round";
    pen.setLineDash(dash);
    this.stroke(rows.map((row) => [this.x(row[0]), this.y(row[column])]));
    pen.setLineDash([]);
  }

  stroke(points) {
    const { pen } = this;
    pen.beginPath();
    points.forEach(([x, y], place) => pen[place ? "lineTo" : "moveTo"](x, y));
    pen.stroke();
  }

  tip(row) {
    if (!row) return;
    const { pen } = this;
    pen.beginPath();
    pen.arc(this.x(row[0]), this.y(row[1]), this.small ? 4 : 6, 0, 2 * Math.PI);
    pen.fillStyle = this.colour("curve");
    pen.fill();
    pen.strokeStyle = this.colour("paper");
    pen.lineWidth = 2;
    pen.stroke();
  }
}
