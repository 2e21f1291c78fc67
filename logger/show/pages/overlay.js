// Draws a brew's line over the figure when its box is ticked, from the whole numbers that the page carries.
(function () {
  "use strict";
  const { figures, looks, read, tenths } = window.evencup;
  const { names, views } = read("line-data");
  const figure = figures.overlay;
  const SVG = "http://www.w3.org/2000/svg";
  const NOTHING = -32768;
  const MOST_IN_BUNDLE = 60000; // points of all lines together
  const NEAR_PX = 14;
  const DASH_LENGTHS = { solid: "", dash: "9 5", dot: "2 4", dashdot: "9 4 2 4", longdash: "15 5" };
  const COLOURS = ["first", "second", "third", "fourth"];
  const boxes = Array.from(document.querySelectorAll("input[data-brew]"));
  const bundleBox = document.getElementById("every-line");
  const taken = []; // which brew has which look: the first that is free is given
  const numbers = {};
  const paths = {};

  function numbersOf(view) {
    if (numbers[view]) return numbers[view];
    const bytes = Uint8Array.from(atob(views[view].numbers), (letter) => letter.charCodeAt(0));
    const seen = new DataView(bytes.buffer);
    const found = new Int16Array(bytes.length / 2);
    for (let at = 0; at < found.length; at += 1) found[at] = seen.getInt16(2 * at, true);
    return (numbers[view] = found);
  }

  function valueAt(view, brew, at) {
    const { points, offset, unit } = views[view];
    const number = at < 0 || at >= points ? NOTHING : numbersOf(view)[brew * points + at];
    return number === NOTHING ? null : offset + unit * number;
  }

  // A brew's line as the path of an SVG whose units are seconds, and what is measured counted downwards.
  function pathOf(view, brew, stride) {
    const { start_s: start, step_s: step, points } = views[view];
    let path = "";
    let pen = "M";
    for (let at = 0; at < points; at += stride) {
      const value = valueAt(view, brew, at);
      if (value === null) pen = "M";
      else {
        path += pen + (start + step * at).toFixed(2) + " " + (-value).toFixed(3);
        pen = "L";
      }
    }
    return path;
  }

  function everyPath(view) {
    if (!paths[view]) {
      const stride = Math.max(1, Math.ceil((views[view].points * names.length) / MOST_IN_BUNDLE));
      paths[view] = names.map((_, brew) => pathOf(view, brew, stride)).join("");
    }
    return paths[view];
  }

  const layer = document.createElementNS(SVG, "svg");
  layer.setAttribute("class", "brew-lines");
  layer.setAttribute("preserveAspectRatio", "none");
  layer.setAttribute("aria-hidden", "true");
  const told = document.createElement("p");
  told.className = "told";

  function addLine(key, path, colour, dash, width) {
    const line = document.createElementNS(SVG, "path");
    line.setAttribute("data-line", key);
    line.setAttribute("d", path);
    line.setAttribute("stroke-dasharray", dash);
    line.setAttribute("stroke-width", width);
    line.style.stroke = "var(--" + colour + ")";
    layer.append(line);
  }

  function removeLine(key) {
    const line = layer.querySelector('[data-line="' + key + '"]');
    if (line) line.remove();
  }

  const colourOf = (look) => COLOURS[look % COLOURS.length];
  // Neighbours differ in colour and in dash; overlay_figure.py has the same.
  const dashOf = (look) => looks.dashes[(Math.floor(look / COLOURS.length) + (look % COLOURS.length)) % looks.dashes.length];

  function drawBrew(brew, look) {
    addLine(brew, pathOf(figure.view, brew, 1), colourOf(look), DASH_LENGTHS[dashOf(look)], 1.8);
  }

  // The figure has been drawn anew: its view, size or axes may be others.
  figure.placed = () => {
    const { xaxis, yaxis, _size: size } = figure.place._fullLayout;
    if (layer.parentElement !== figure.place) figure.place.append(layer, told);
    Object.assign(layer.style, {
      left: size.l + "px",
      top: size.t + "px",
      width: size.w + "px",
      height: size.h + "px",
    });
    const [from, to] = xaxis.range;
    const [low, high] = yaxis.range;
    layer.setAttribute("viewBox", [from, -high, to - from, high - low].join(" "));
    if (layer.dataset.view === figure.view) return;
    layer.dataset.view = figure.view;
    layer.replaceChildren();
    if (bundleBox && bundleBox.checked) addLine("every", everyPath(figure.view), "bundle", "", 0.8);
    taken.forEach((brew, look) => {
      if (brew !== undefined) drawBrew(brew, look);
    });
  };

  // The same lines as traces, for a picture that is saved.
  figure.added = () => {
    const { start_s: start, step_s: step, points } = views[figure.view];
    const trace = (brew, line) => ({
      type: "scatter",
      mode: "lines",
      x: Array.from({ length: points }, (_, at) => start + step * at),
      y: Array.from({ length: points }, (_, at) => valueAt(figure.view, brew, at)),
      name: names[brew].replace(/&/g, "&amp;").replace(/</g, "&lt;"),
      showlegend: line.width > 1,
      line,
    });
    const thin = { color: looks.bundle, width: 1 };
    const bundle = bundleBox && bundleBox.checked ? names.map((_, brew) => trace(brew, thin)) : [];
    const single = taken.map((brew, look) =>
      trace(brew, { color: looks.lines[look % looks.lines.length], dash: dashOf(look), width: 1.8 }));
    return bundle.concat(single.filter(Boolean));
  };

  function give(brew) {
    if (taken.includes(brew)) return;
    let look = taken.indexOf(undefined);
    if (look < 0) look = taken.length;
    taken[look] = brew;
    for (const box of boxesOf(brew)) {
      const line = box.parentElement.querySelector("line");
      line.style.stroke = "var(--" + colourOf(look) + ")";
      line.setAttribute("stroke-dasharray", DASH_LENGTHS[dashOf(look)]);
    }
    if (layer.dataset.view) drawBrew(brew, look);
  }

  function release(brew) {
    const look = taken.indexOf(brew);
    if (look >= 0) taken[look] = undefined;
    removeLine(brew);
  }

  const boxesOf = (brew) => boxes.filter((box) => Number(box.dataset.brew) === brew);

  function follow(box) {
    const brew = Number(box.dataset.brew);
    for (const twin of boxesOf(brew)) twin.checked = box.checked;
    if (box.checked) give(brew);
    else release(brew);
  }

  // Says which line is under the pointer, and what it shows there.
  function tell(event) {
    const area = layer.getBoundingClientRect();
    const view = views[figure.view];
    const [from, to] = figure.place._fullLayout.xaxis.range;
    const [low, high] = figure.place._fullLayout.yaxis.range;
    const time = from + ((event.clientX - area.left) / area.width) * (to - from);
    const at = Math.round((time - view.start_s) / view.step_s);
    let nearest = null;
    taken.forEach((brew, look) => {
      const value = brew === undefined ? null : valueAt(figure.view, brew, at);
      if (value === null) return;
      const away = Math.abs(area.bottom - ((value - low) / (high - low)) * area.height - event.clientY);
      if (away < NEAR_PX && (!nearest || away < nearest.away)) nearest = { away, brew, value };
    });
    const inside = event.clientX >= area.left && event.clientX <= area.right;
    told.textContent = nearest && inside
      ? tenths(view.start_s + at * view.step_s) + "  " + nearest.value.toFixed(1) + " " + view.quantity + "  " +
        (nearest.brew + 1) + " " + names[nearest.brew]
      : "";
  }

  for (const box of boxes) {
    if (box.checked) follow(box);
    box.addEventListener("change", () => follow(box));
  }
  figure.place.addEventListener("mousemove", tell);
  figure.place.addEventListener("mouseleave", () => (told.textContent = ""));
  if (bundleBox) {
    bundleBox.checked = false;
    bundleBox.addEventListener("change", () => {
      removeLine("every");
      if (bundleBox.checked) {
        addLine("every", everyPath(figure.view), "bundle", "", 0.8);
        layer.prepend(layer.lastChild);
      }
    });
  }
  const none = document.getElementById("no-line");
  if (none) {
    none.addEventListener("click", () => {
      for (const box of boxes.filter((one) => one.checked)) {
        box.checked = false;
        release(Number(box.dataset.brew));
      }
    });
  }
  const sought = document.getElementById("seek-brew");
  if (sought) {
    sought.addEventListener("input", () => {
      const words = sought.value.toLowerCase();
      for (const item of document.querySelectorAll("#all-brews li")) {
        item.hidden = !item.textContent.toLowerCase().includes(words);
      }
    });
  }
})();
