// Draws the page's figure for its width, its light or dark surroundings, its zoom, and for paper.
(function () {
  "use strict";
  const place = document.getElementById("figure");
  const figure = JSON.parse(document.getElementById("figure-data").textContent);
  const looks = JSON.parse(document.getElementById("figure-looks").textContent);
  const dark = window.matchMedia("(prefers-color-scheme: dark)");
  const PAPER_PX = 680; // A4 less its margins, at 96 px an inch
  const PAPER_HEIGHT_PX = 620; // what the verdict leaves of the first page
  const PX_PER_TICK = 64;
  const NARROW_LEGEND_PX = 56;
  const WORDS = new Set(["text", "name", "customdata", "hovertemplate", "ticktext"]);
  let onPaper = false;

  function inDark(value, key) {
    if (WORDS.has(key)) return value;
    if (typeof value === "string") return looks.dark_for_light[value] || value;
    if (Array.isArray(value)) return value.map((one) => inDark(one, ""));
    if (value === null || typeof value !== "object") return value;
    return Object.fromEntries(Object.entries(value).map(([name, one]) => [name, inDark(one, name)]));
  }

  function clock(seconds) {
    const hours = Math.floor(seconds / 3600);
    const minutes = Math.floor((seconds % 3600) / 60);
    const rest = String(Math.round(seconds % 60)).padStart(2, "0");
    return hours ? hours + ":" + String(minutes).padStart(2, "0") + ":" + rest : minutes + ":" + rest;
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

  function draw() {
    const drawn = dark.matches && !onPaper ? inDark(figure, "") : structuredClone(figure);
    const width = onPaper ? PAPER_PX : place.clientWidth;
    const isNarrow = width < 600;
    const range = place.layout ? place.layout.xaxis.range : drawn.layout.xaxis.range;
    setTicks(drawn.layout, range.slice(), width);
    drawn.layout.width = width;
    drawn.layout.uirevision = "kept";
    // On a phone a finger on the figure scrolls the page; it must not start a zoom.
    drawn.layout.dragmode = isNarrow ? false : "zoom";
    if (isNarrow) {
      // The legend needs more lines.
      drawn.layout.margin.b += NARROW_LEGEND_PX;
      drawn.layout.height += NARROW_LEGEND_PX;
    }
    if (onPaper) drawn.layout.height = Math.min(drawn.layout.height, PAPER_HEIGHT_PX);
    Plotly.react(place, drawn.data, drawn.layout, {
      displaylogo: false,
      displayModeBar: isNarrow || onPaper ? false : "hover",
      modeBarButtonsToRemove: ["select2d", "lasso2d", "autoScale2d"],
      plotlyServerURL: "",
      showSendToCloud: false,
      scrollZoom: false,
    });
  }

  function drawFor(paper) {
    onPaper = paper;
    draw();
  }

  draw();
  for (const box of document.querySelectorAll("input[data-curve]")) {
    box.addEventListener("change", () => {
      for (const curve of figure.data) if (curve.legendgroup === box.dataset.curve) curve.visible = box.checked;
      draw();
    });
  }
  place.on("plotly_hover", (event) => {
    // The library can head its hover box with seconds alone.
    const heading = place.querySelector(".hoverlayer .legendtitletext");
    const tenths = Math.round(event.points[0].x * 10);
    if (heading) heading.textContent = clock(Math.floor(tenths / 10)) + "." + (tenths % 10);
  });
  place.on("plotly_relayout", (change) => {
    if (Object.keys(change).some((name) => name.startsWith("xaxis"))) draw();
  });
  dark.addEventListener("change", draw);
  window.addEventListener("beforeprint", () => drawFor(true));
  window.addEventListener("afterprint", () => drawFor(false));
  let shownWidth = place.clientWidth;
  new ResizeObserver(() => {
    if (onPaper || place.clientWidth === shownWidth) return;
    shownWidth = place.clientWidth;
    draw();
  }).observe(place);
})();
