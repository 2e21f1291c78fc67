// Draws the page's figures for their width, their light or dark surroundings, their zoom, and for paper.
(function () {
  "use strict";
  const read = (name) => JSON.parse(document.getElementById(name).textContent);
  const data = read("figure-data");
  const looks = read("figure-looks");
  const dark = window.matchMedia("(prefers-color-scheme: dark)");
  const PAPER_PX = 680; // A4 less its margins, at 96 px an inch
  const PAPER_HEIGHT_PX = 620; // what the verdict leaves of the first page
  const PAPER_PANEL_PX = 430; // the same for a figure of one panel, with its boxes below
  const PX_PER_TICK = 64;
  const NARROW_LEGEND_PX = 56;
  const WORDS = new Set(["text", "name", "customdata", "hovertemplate", "ticktext"]);
  const figures = {};
  let onPaper = false;

  function inDark(value, key) {
    if (WORDS.has(key)) return value;
    if (typeof value === "string") return looks.dark_for_light[value] || value;
    if (ArrayBuffer.isView(value)) return value;
    if (Array.isArray(value)) {
      // Long lists are numbers; of a short one each may be a colour.
      return value.length > 100 ? value : value.map((one) => inDark(one, ""));
    }
    if (value === null || typeof value !== "object") return value;
    return Object.fromEntries(Object.entries(value).map(([name, one]) => [name, inDark(one, name)]));
  }

  function copied(value) {
    if (ArrayBuffer.isView(value) || value === null || typeof value !== "object") return value;
    if (Array.isArray(value)) return value.length > 100 ? value : value.map(copied);
    return Object.fromEntries(Object.entries(value).map(([name, one]) => [name, copied(one)]));
  }

  function clock(seconds) {
    const hours = Math.floor(seconds / 3600);
    const minutes = Math.floor((seconds % 3600) / 60);
    const rest = String(Math.round(seconds % 60)).padStart(2, "0");
    return hours ? hours + ":" + String(minutes).padStart(2, "0") + ":" + rest : minutes + ":" + rest;
  }

  function tenths(seconds) {
    const whole = Math.round(seconds * 10);
    return clock(Math.floor(whole / 10)) + "." + (whole % 10);
  }

  function setTicks(layout, range, width) {
    const most = Math.max(2, (width - 54) / PX_PER_TICK);
    const steps = looks.tick_steps_s;
    const step = steps.find((one) => (range[1] - range[0]) / one <= most) || steps[steps.length - 1];
    const values = [];
    for (let tick = Math.ceil(range[0] / step); tick * step <= range[1]; tick += 1) values.push(tick * step);
    for (const name of Object.keys(layout).filter((one) => one.startsWith("xaxis"))) {
      layout[name].tickvals = values;
      layout[name].ticktext = values.map(clock);
    }
  }

  // One figure of the page. Another script may lay lines over it: `placed` is called when axes have moved,
  // and `added` gives the same lines as traces, for a picture that is saved.
  class Figure {
    constructor(key) {
      this.key = key;
      this.place = document.getElementById(key);
      this.views = data[key];
      this.view = Object.keys(this.views)[0];
      this.width = this.place.clientWidth;
      this.placed = () => {};
      this.added = () => [];
      this.drawnView = null;
    }

    // The view's traces and layout, in the colours and for the width that are wanted now.
    composed() {
      const view = this.views[this.view];
      const theme = dark.matches && !onPaper ? (one) => inDark(one, "") : copied;
      const layout = theme(view.layout);
      const width = onPaper ? PAPER_PX : this.place.clientWidth;
      const was = this.drawnView === this.view && this.place.layout ? this.place.layout.xaxis.range : null;
      const isClock = !(view.layout.meta && view.layout.meta.is_no_clock);
      if (isClock) setTicks(layout, (was || layout.xaxis.range).slice(), width);
      layout.width = width;
      layout.uirevision = this.view;
      const isNarrow = width < 600;
      // On a phone a finger on the figure scrolls the page; it must not start a zoom.
      layout.dragmode = isNarrow ? false : "zoom";
      if (isNarrow && layout.showlegend !== false) {
        // The legend needs more lines.
        layout.margin.b += NARROW_LEGEND_PX;
        layout.height += NARROW_LEGEND_PX;
      }
      if (onPaper) layout.height = Math.min(layout.height, layout.yaxis2 ? PAPER_HEIGHT_PX : PAPER_PANEL_PX);
      return { theme, isNarrow, traces: theme(view.data), layout };
    }

    draw() {
      const { traces, layout, isNarrow } = this.composed();
      this.drawnView = this.view;
      Plotly.react(this.place, traces, layout, {
        displaylogo: false,
        displayModeBar: isNarrow || onPaper ? false : "hover",
        modeBarButtonsToRemove: ["select2d", "lasso2d", "autoScale2d", "toImage"],
        plotlyServerURL: "",
        showSendToCloud: false,
        scrollZoom: false,
      });
      this.place.dataset.shown = this.view;
      this.placed();
    }

    listen() {
      this.place.on("plotly_hover", (event) => {
        // The library can head its hover box with seconds alone.
        const heading = this.place.querySelector(".hoverlayer .legendtitletext");
        if (heading) heading.textContent = tenths(event.points[0].x);
      });
      this.place.on("plotly_relayout", (change) => {
        if (Object.keys(change).some((name) => name.startsWith("xaxis"))) this.draw();
      });
      new ResizeObserver(() => {
        if (onPaper || this.place.clientWidth === this.width) return;
        this.width = this.place.clientWidth;
        this.draw();
      }).observe(this.place);
    }

    show(view) {
      this.view = view;
      this.draw();
    }

    save(kind) {
      const { theme, traces, layout } = this.composed();
      const { width, height } = layout;
      layout.xaxis.range = this.place.layout.xaxis.range.slice();
      layout.paper_bgcolor = getComputedStyle(document.documentElement).backgroundColor;
      const filename = document.title.replace(/[^\p{L}\p{N}]+/gu, "-") + "-" + this.view;
      const picture = { data: traces.concat(theme(this.added())), layout };
      return Plotly.downloadImage(picture, { format: kind, width, height, scale: 2, filename });
    }
  }

  function drawAll(paper) {
    onPaper = paper;
    for (const figure of Object.values(figures)) figure.draw();
  }

  for (const key of Object.keys(data)) figures[key] = new Figure(key);
  window.evencup = { figures, looks, read, tenths };
  // Scripts that add lines run before anything is drawn.
  document.addEventListener("DOMContentLoaded", () => {
    for (const figure of Object.values(figures)) {
      figure.draw();
      figure.listen();
    }
  });
  for (const chooser of document.querySelectorAll("[data-view-of]")) {
    if (chooser.type === "radio" && chooser.checked) figures[chooser.dataset.viewOf].view = chooser.value;
    if (chooser.type !== "radio") figures[chooser.dataset.viewOf].view = chooser.value;
    chooser.addEventListener("change", () => figures[chooser.dataset.viewOf].show(chooser.value));
  }
  for (const button of document.querySelectorAll("[data-save]")) {
    button.addEventListener("click", () => figures[button.dataset.figure].save(button.dataset.save));
  }
  // On a phone the groups of a long table open one by one; a wide screen and paper show all of them.
  const isNarrow = window.matchMedia("(max-width: 40rem)").matches;
  for (const group of isNarrow ? document.querySelectorAll("table.folds tbody:has(.group)") : []) {
    const head = group.querySelector(".group th");
    const button = document.createElement("button");
    const fold = (folded) => {
      group.classList.toggle("folded", folded);
      button.setAttribute("aria-expanded", String(!folded));
    };
    button.type = "button";
    button.append(...head.childNodes);
    button.addEventListener("click", () => fold(!group.classList.contains("folded")));
    head.append(button);
    fold(true);
  }
  dark.addEventListener("change", () => drawAll(onPaper));
  window.addEventListener("beforeprint", () => drawAll(true));
  window.addEventListener("afterprint", () => drawAll(false));
})();
