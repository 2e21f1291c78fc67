// One recorder looked at: its news, the link to it, whether the screen stays on; a frame when any of them changed.

import { keepAwake } from "./awake.js";
import { Stream } from "./stream.js";

export class View {
  constructor(otherView, take, draw) {
    this.link = "opening";
    this.awake = "";
    this.due = false;
    this.draw = draw;
    const query = new URLSearchParams(location.search);
    new Stream(query, (station) => {
      take(station);
      this.schedule();
    }, (news) => {
      this.link = news;
      this.schedule();
    });
    keepAwake((words) => {
      this.awake = words;
      this.schedule();
    });
    if (query.has("station")) document.getElementById("other-view").href = `${otherView}?${query}`;
  }

  schedule() {
    if (this.due) return;
    this.due = true;
    requestAnimationFrame(() => {
      this.due = false;
      this.draw();
    });
  }
}
