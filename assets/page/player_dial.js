// The player's dial: allowed arc, seam, keep-outs, target and hand, with the camera on a field of stars inside.
// Drive angles run clockwise from the top. The sky has east to the left, so position angles run the other way.
(function (H) {
  "use strict";
  const NS = "http://www.w3.org/2000/svg";
  const SKY = 92;
  const INNER = 101;
  const RING = 118;
  const STARS = 90;
  let dials = 0;

  function node(name, attributes, parent, text) {
    const made = document.createElementNS(NS, name);
    for (const key of Object.keys(attributes)) made.setAttribute(key, attributes[key]);
    if (text !== undefined) made.textContent = text;
    if (parent) parent.appendChild(made);
    return made;
  }

  function polar(angle_deg, radius) {
    const a = angle_deg * Math.PI / 180;
    return [radius * Math.sin(a), -radius * Math.cos(a)];
  }

  function points(angles, radius) {
    return angles.map((a) => polar(a, radius).map((v) => v.toFixed(2)).join(" "));
  }

  function range(from, width) {
    const steps = Math.max(1, Math.min(180, Math.ceil(Math.abs(width) / 2)));
    return Array.from({ length: steps + 1 }, (_, i) => from + width * i / steps);
  }

  // A part of the ring, as a path.
  function part(from, width, inner, outer) {
    const angles = range(from, Math.max(0, Math.min(360, width)));
    return "M" + points(angles, outer).join("L") + "L" + points(angles.slice().reverse(), inner).join("L") + "Z";
  }

  function turn(angle_deg) {
    return ((angle_deg % 360) + 360) % 360;
  }

  // A keep-out of endless travel may go across 0.
  function keepOutWidth(area) {
    const raw = area.to_deg - area.from_deg;
    return raw < 0 ? turn(raw) : raw;
  }

  // The same field every time: a small generator with a fixed start.
  function stars(group) {
    let state = 20261;
    const next = () => {
      state = (state * 48271) % 2147483647;
      return state / 2147483647;
    };
    for (let i = 0; i < STARS; i += 1) {
      const [x, y] = polar(360 * next(), (SKY - 3) * Math.sqrt(next()));
      const bright = next();
      node("circle", { class: "hp-star", cx: x.toFixed(1), cy: y.toFixed(1), r: (0.35 + 1.25 * bright * bright * bright).toFixed(2) }, group);
    }
  }

  // Half width and half height of the camera's frame, its corners just inside the sky.
  function frame(data) {
    const mm = data.dial.frame_mm;
    let shape = data.symmetry % 4 === 0 ? 1 : 1.5;
    if (mm) shape = Math.max(0.4, Math.min(2.5, mm[0] / mm[1]));
    const half = 66;
    const h = half / Math.hypot(shape, 1);
    return [shape * h, h];
  }

  function rectangle(group, [w, h], name) {
    node("rect", { class: name, x: -w, y: -h, width: 2 * w, height: 2 * h }, group);
  }

  function ring(svg, data, id) {
    const d = data.dial;
    const from = d.arc_start_deg;
    const width = Math.min(360, d.arc_width_deg);
    // A range of several turns between stops is drawn on the line of readings below, not on the ring.
    const once = !d.stops_deg || d.stops_deg[1] - d.stops_deg[0] <= 360;
    node("path", { class: "hp-ring", d: part(0, 360, INNER, RING) }, svg);
    if (d.band_deg > 0 && width < 360) {
      const wide = Math.min(360, width + 2 * d.band_deg);
      node("path", { class: "hp-band", d: part(from - 0.5 * (wide - width), wide, INNER, RING) }, svg);
    }
    node("path", { class: "hp-arc", d: part(from, width, INNER, RING) }, svg);
    if (once) {
      for (const k of d.keep_outs) {
        const path = node("path", { class: "hp-keep-out", d: part(k.from_deg, keepOutWidth(k), INNER, RING), fill: "url(#" + id + ")" }, svg);
        node("title", {}, path, "Keep out: " + k.why);
      }
      if (d.stops_deg && d.stops_deg[1] - d.stops_deg[0] < 360) {
        const closed = 360 - (d.stops_deg[1] - d.stops_deg[0]);
        node("path", { class: "hp-stop", d: part(d.stops_deg[1], closed, INNER, RING) }, svg);
      }
    }
    const number = (angle, text, name) => {
      const half = 3.2 * text.length;
      const side = Math.abs(Math.sin(angle * Math.PI / 180));
      const [x, y] = polar(angle, RING + 13 + side * half + 6 * (1 - side));
      node("text", { class: name, x, y: y + 4 }, svg, text);
    };
    const ends = d.seam ? (width < 360 ? [from, from + width] : [from]) : [];
    for (const quarter of [0, 90, 180, 270]) {
      if (!ends.some((end) => Math.abs(turn(end - quarter + 180) - 180) < 16)) {
        number(quarter, quarter + "\u00b0", "hp-number");
      }
    }
    for (const end of ends) {
      const [a, b] = [INNER - 3, RING + 5].map((r) => polar(end, r));
      node("line", { class: "hp-seam", x1: a[0], y1: a[1], x2: b[0], y2: b[1] }, svg);
      const label = d.stops_deg ? end : turn(end);
      number(end, String(Number(label.toFixed(1))).replace("-", "\u2212") + "\u00b0", "hp-number hp-strong");
    }
    const marks = Math.max(1, Math.round(360 / d.period_deg));
    for (let i = marks - 1; i >= 0; i -= 1) {
      const [x, y] = polar(d.target_drive_deg + i * d.period_deg, RING + 6);
      const mark = node("path", { class: i === 0 ? "hp-target" : "hp-equal", d: "M0 -6L5 0L0 6L-5 0Z", transform: "translate(" + x + " " + y + ")" }, svg);
      node("title", {}, mark, i === 0 ? "Drive angle of the target" : "An equivalent framing");
    }
  }

  // The line of readings between stops, as wide as the dial.
  function strip(svg, data) {
    const d = data.dial;
    if (!d.stops_deg) return null;
    const [lo, hi] = d.stops_deg;
    const at = (deg) => -130 + 260 * (Math.max(lo, Math.min(hi, deg)) - lo) / (hi - lo);
    const bar = (name, from, to) => {
      if (to > lo && from < hi) node("rect", { class: name, x: at(from), y: 160, width: Math.max(0.5, at(to) - at(from)), height: 10 }, svg);
    };
    bar("hp-ring", lo, hi);
    bar("hp-band", d.arc_start_deg - d.band_deg, d.arc_start_deg + d.arc_width_deg + d.band_deg);
    bar("hp-arc", d.arc_start_deg, d.arc_start_deg + d.arc_width_deg);
    for (const k of d.keep_outs) bar("hp-shut", k.from_deg, k.to_deg);
    for (const [end, anchor] of [[lo, "start"], [hi, "end"]]) {
      node("text", { class: "hp-number", x: at(end), y: 186, "text-anchor": anchor }, svg, "stop " + String(Number(end.toFixed(1))).replace("-", "\u2212") + "\u00b0");
    }
    node("text", { class: "hp-number", x: 0, y: 186 }, svg, "reading (\u00b0)");
    return { hand: node("path", { class: "hp-hand", d: "M0 170L-4 157L4 157Z" }, svg), at };
  }

  // Draws the dial of a trace into an SVG element; the returned `show` moves its hand and camera.
  function draw(svg, data) {
    dials += 1;
    const id = "hp-hatch-" + dials;
    svg.replaceChildren();
    svg.setAttribute("viewBox", data.dial.stops_deg ? "-172 -147 344 342" : "-172 -147 344 294");
    const defs = node("defs", {}, svg);
    const hatch = node("pattern", { id, width: 5, height: 5, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, defs);
    node("rect", { class: "hp-hatch", width: 2.4, height: 5 }, hatch);
    node("circle", { class: "hp-sky", r: SKY }, svg);
    const field = node("g", {}, svg);
    stars(field);
    node("text", { class: "hp-pole", x: 0, y: -SKY + 13 }, svg, "N");
    node("text", { class: "hp-pole", x: 10 - SKY, y: 4 }, svg, "E");
    const size = frame(data);
    const wanted = node("g", {}, svg);
    rectangle(wanted, size, "hp-wanted");
    const camera = node("g", { class: "hp-camera" }, svg);
    rectangle(camera, size, "hp-frame");
    node("path", { class: "hp-up", d: "M0 " + (-size[1] - 8) + "L5 " + -size[1] + "L-5 " + -size[1] + "Z" }, camera);
    node("circle", { class: "hp-up", r: 1.6 }, camera);
    ring(svg, data, id);
    const line = strip(svg, data);
    const trail = node("path", { class: "hp-trail", d: "" }, svg);
    const hand = node("path", { class: "hp-hand", d: "M0 -117L-7.5 -92L7.5 -92Z" }, svg);
    // `view`: reading, true angle, start of the move so far, all in degrees, and whether the move is long.
    return function show(view) {
      hand.setAttribute("transform", "rotate(" + turn(view.reading_deg) + ")");
      camera.setAttribute("transform", "rotate(" + turn(-view.angle_deg) + ")");
      const period = data.dial.period_deg;
      const off = data.target_deg - view.angle_deg;
      wanted.setAttribute("transform", "rotate(" + turn(-view.angle_deg - off + period * Math.round(off / period)) + ")");
      const swept = Math.max(-360, Math.min(360, view.reading_deg - view.from_deg));
      trail.setAttribute("class", view.long ? "hp-trail hp-long" : "hp-trail");
      trail.setAttribute("d", Math.abs(swept) < 0.05 ? "" : "M" + points(range(view.reading_deg - swept, swept), 96.5).join("L"));
      if (line) line.hand.setAttribute("transform", "translate(" + line.at(view.reading_deg) + " 0)");
    };
  }

  H.dial = { draw, node, polar, part, keepOutWidth };
})(window.HalfturnPlayer = window.HalfturnPlayer || {});
