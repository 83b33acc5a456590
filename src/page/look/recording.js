// Along a recording: draw to look closer, touch to read values. Links and the form do both without it.
"use strict";
{
  const figure = document.querySelector("figure.chart[data-values]");
  const stage = figure?.querySelector(".stage");
  const image = stage?.querySelector("img");
  const readout = document.getElementById("readout");
  const said = figure?.dataset;
  // Less than this was a touch, not a stretch; px.
  const LEAST = 14;

  const filled = (sentence, ...parts) => sentence.replaceAll("{}", () => parts.shift() ?? "");
  const shown = (number, decimals) => number.toFixed(decimals).replace(/^-(0[.0]*)$/, "$1").replace("-", "−");
  // As the sheet says times.
  const time = (s) => {
    const ms = Math.round(Math.abs(s) * 1000), sign = s < -0.0005 ? "-" : "";
    const seconds = String((ms % 60000) / 1000), minutes = Math.floor(ms / 60000);
    if (!minutes) return `${sign}${seconds} s`;
    const padded = (ms % 60000 < 10000 ? "0" : "") + seconds;
    if (minutes < 60) return `${sign}${minutes}:${padded}`;
    return `${sign}${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}:${padded}`;
  };

  if (figure) {
    const from = Number(said.from), until = Number(said.until);
    let found = null, index = -1, drawn = null;
    const line = document.createElement("div");
    const band = document.createElement("div");
    line.className = "line";
    band.className = "band";
    line.hidden = band.hidden = true;
    for (const [name, value] of Object.entries({ role: "slider", tabindex: "0", "aria-label": said.slide, "aria-valuemin": from, "aria-valuemax": until })) {
      line.setAttribute(name, value);
    }
    stage.append(band, line);
    figure.querySelector("[data-drag]").hidden = false;

    // Left and right of the plot in px of the stage.
    const plot = () => {
      const parts = (image.currentSrc.includes("width=narrow") ? said.narrow : said.wide).split(" ");
      return parts.map((part) => (Number(part) / 1000) * image.clientWidth);
    };
    const at = (x) => {
      const [left, right] = plot();
      const share = (x - stage.getBoundingClientRect().left - left) / (right - left);
      return from + Math.min(1, Math.max(0, share)) * (until - from);
    };
    const place = (s) => {
      const [left, right] = plot();
      return left + ((s - from) / (until - from)) * (right - left);
    };
    const go = (a, b) => {
      const step = Math.max(0.001, 10 ** (Math.floor(Math.log10(b - a)) - 2));
      const round = (s) => String(Number((Math.round(s / step) * step).toFixed(3)));
      location.assign(`${said.there}&from=${round(a)}&until=${round(b)}#chart`);
    };

    // The column at a time: its index, or the one before a gap that the time falls into.
    const column = (s) => {
      const all = found.columns;
      let low = 0, high = all.length;
      while (low < high) {
        const middle = (low + high) >> 1;
        if (all[middle][0] <= s) low = middle + 1;
        else high = middle;
      }
      const here = Math.max(0, low - 1), next = all[here + 1];
      if (!next || s <= all[here][1]) return [here, false];
      if (next[3]) return [here, true];
      return [s - all[here][1] < next[0] - s ? here : here + 1, false];
    };
    const boxes = () => {
      const list = document.createElement("dl");
      for (const lane of found.lanes) {
        const box = document.createElement("div");
        const name = document.createElement("dt");
        const value = document.createElement("dd");
        name.textContent = lane.name;
        for (const kind of ["figure", "unit-of", "range"]) {
          const part = document.createElement("span");
          part.className = kind;
          value.append(part, " ");
        }
        box.append(name, value);
        list.append(box);
      }
      const head = document.createElement("p");
      head.className = "time";
      head.append(document.createElement("span"), " ", Object.assign(document.createElement("span"), { className: "small" }));
      readout.replaceChildren(head, list);
      readout.hidden = false;
    };
    let isBuilt = false;
    const read = (s) => {
      if (!found?.columns.length) return;
      if (!isBuilt) boxes();
      isBuilt = true;
      const [here, inGap] = column(s);
      index = here;
      const [first, last, n, gap] = found.columns[here];
      const middle = inGap ? s : (first + last) / 2;
      const [when, kind] = readout.querySelectorAll(".time span");
      when.textContent = inGap ? filled(said.gap, time(last), time(found.columns[here + 1][0])) : filled(said.at, time(middle));
      const how = n === 1 ? said.one : filled(said.many, n.toLocaleString("en").replaceAll(",", "\u202f"));
      kind.textContent = inGap ? "" : gap && n > 1 ? `${how}; ${said.missing}` : how;
      readout.querySelectorAll("dl > div").forEach((box, lane) => {
        const { unit, decimals, values } = found.lanes[lane];
        const value = inGap ? null : values[here];
        const [figure, of, range] = box.querySelectorAll("span");
        figure.textContent = value ? shown(value[1], decimals) : "";
        of.textContent = value ? unit : said.none;
        range.textContent = value && n > 1 ? filled(said.range, shown(value[0], decimals), shown(value[2], decimals)) : "";
      });
      line.hidden = false;
      line.style.left = `${place(Math.min(until, Math.max(from, middle)))}px`;
      line.setAttribute("aria-valuenow", middle);
      line.setAttribute("aria-valuetext", readout.innerText);
    };
    const draw = (x) => {
      const is = drawn !== null && Math.abs(x - drawn) >= LEAST;
      band.hidden = !is;
      if (!is) return;
      const [left, right] = [place(at(Math.min(x, drawn))), place(at(Math.max(x, drawn)))];
      band.style.left = `${left}px`;
      band.style.width = `${right - left}px`;
    };
    const leave = () => {
      drawn = null;
      band.hidden = true;
    };

    stage.addEventListener("pointerdown", (event) => {
      // A second finger is for the browser's own zoom.
      if (!event.isPrimary) return leave();
      if (event.button) return;
      drawn = event.clientX;
      stage.setPointerCapture(event.pointerId);
      read(at(event.clientX));
    });
    stage.addEventListener("pointermove", (event) => {
      if (!event.isPrimary) return;
      draw(event.clientX);
      read(at(event.clientX));
    });
    stage.addEventListener("pointerup", (event) => {
      if (drawn === null || !event.isPrimary) return;
      const [a, b] = [at(Math.min(drawn, event.clientX)), at(Math.max(drawn, event.clientX))];
      const is = Math.abs(event.clientX - drawn) >= LEAST && b - a > 0;
      leave();
      if (is) go(a, b);
    });
    stage.addEventListener("pointercancel", leave);
    stage.addEventListener("dragstart", (event) => event.preventDefault());
    line.addEventListener("keydown", (event) => {
      if (!found?.columns.length) return;
      const last = found.columns.length - 1;
      const to = { ArrowLeft: index - 1, ArrowRight: index + 1, PageDown: index - 20, PageUp: index + 20, Home: 0, End: last }[event.key];
      if (to === undefined) return;
      event.preventDefault();
      read(found.columns[Math.min(last, Math.max(0, to))][0]);
    });
    addEventListener("resize", () => { if (index >= 0) read(found.columns[index][0]); });

    fetch(said.values).then((reply) => (reply.ok ? reply.json() : Promise.reject())).then((values) => {
      found = values;
      // Values that were asked for in the form stay until the picture is touched.
      if (readout.hidden) read((from + until) / 2);
    }).catch(() => {
      if (!readout.hidden) return;
      const sorry = Object.assign(document.createElement("p"), { textContent: said.failed });
      readout.replaceChildren(sorry);
      readout.hidden = false;
    });
  }
}
