// The player: replays one traced loop, step by step or in its course.
// `HalfturnPlayer.mount(element, data)` fills an element; `load(data)` of what it returns shows another loop.
// `data` is the JSON of `halfturn trace`. No style is set by markup, so a strict content-security policy holds.
(function (H) {
  "use strict";
  let players = 0;
  const SPEEDS = [0.5, 1, 2, 4];
  // A step is never shorter than this, so nothing flashes three times a second.
  const SHORTEST_MS = 400;
  const HELP = "Space plays and pauses, left and right arrows step, Home and End go to the ends, 1 to 4 or plus and minus set the speed.";

  function make(name, attributes, parent, text) {
    const made = document.createElement(name);
    for (const key of Object.keys(attributes)) made.setAttribute(key, attributes[key]);
    if (text !== undefined) made.textContent = text;
    if (parent) parent.appendChild(made);
    return made;
  }

  function still() {
    return window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  }

  // The true position angle before the first step, from what the first solve found.
  function parkedAngle(data) {
    const row = data.rows[0];
    const d = data.dial;
    if (!row) return 0;
    if (row.solved) return row.solved.true_angle_deg - d.sense * (row.reading_deg - row.from_deg);
    return d.believed_zero_point_deg + d.sense * row.from_deg;
  }

  // The unwrapped true angle after every step: index 0 is the start.
  function angles(data) {
    const list = [parkedAngle(data)];
    for (const row of data.rows) {
      const near = list[list.length - 1] + data.dial.sense * (row.reading_deg - row.from_deg);
      const off = row.solved ? row.solved.true_angle_deg - near : 0;
      list.push(near + off - 360 * Math.round(off / 360));
    }
    return list;
  }

  // Where the drive is at a part (0 to 1) of the way of a row, through the end of a first leg if there is one.
  function along(row, part) {
    const legs = row.via_deg === null ? [row.from_deg, row.reading_deg] : [row.from_deg, row.via_deg, row.reading_deg];
    const total = legs.slice(1).reduce((sum, to, i) => sum + Math.abs(to - legs[i]), 0);
    let left = part * total;
    for (let i = 1; i < legs.length; i += 1) {
      const length = Math.abs(legs[i] - legs[i - 1]);
      if (left <= length && length > 0) return legs[i - 1] + (legs[i] - legs[i - 1]) * left / length;
      left -= length;
    }
    return row.reading_deg;
  }

  function Player(element) {
    this.step = -1;
    this.part = 1;
    this.speed = 1;
    this.playing = false;
    this.flashed = -SHORTEST_MS;
    this.build(element);
  }

  Player.prototype.build = function (element) {
    element.replaceChildren();
    const root = make("div", { class: "hp", role: "group", tabindex: "0", "aria-label": "Replay of one loop" }, element);
    this.root = root;
    const stage = make("div", { class: "hp-stage" }, root);
    this.svg = H.dial.node("svg", { class: "hp-dial", role: "img" }, stage);
    this.flag = make("p", { class: "hp-flag", "aria-hidden": "true" }, stage);
    const side = make("div", { class: "hp-side" }, root);
    const facts = make("dl", { class: "hp-facts" }, side);
    this.facts = {};
    for (const [key, title] of [["reading", "Reading"], ["solve", "Solve"], ["residual", "Residual"], ["elapsed", "Elapsed"], ["solves", "Solves"], ["swings", "Long swings"]]) {
      const pair = make("div", {}, facts);
      make("dt", {}, pair, title);
      this.facts[key] = make("dd", { class: "hp-" + key }, pair, "\u2013");
    }
    this.gauge = H.gauge.build(side);
    this.bar(side);
    this.say = make("p", { class: "hp-say", role: "status", "aria-live": "polite" }, side);
    this.list = make("ol", { class: "hp-steps", "aria-label": "Steps" }, side);
    this.list.addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (button) this.jump(Number(button.dataset.step));
    });
    const key = make("ul", { class: "hp-key" }, root);
    for (const [name, text] of [["arc", "allowed arc, its ends the seam"], ["keep", "keep-out"], ["target", "target and its equivalents"], ["hand", "drive"], ["camera", "camera"], ["wanted", "wanted frame"]]) {
      make("li", { class: "hp-key-" + name }, key, text);
    }
    players += 1;
    const note = "hp-note-" + players;
    root.setAttribute("aria-describedby", note);
    make("p", { class: "hp-note", id: note }, root, "Drive angles run clockwise from the top. The sky has north up and east to the left. " + HELP);
    root.addEventListener("keydown", (event) => this.key(event));
  };

  Player.prototype.bar = function (side) {
    const bar = make("div", { class: "hp-bar" }, side);
    const button = (name, text, label, act) => {
      const made = make("button", { type: "button", class: "hp-button hp-" + name, "aria-label": label }, bar, text);
      made.addEventListener("click", act);
      return made;
    };
    button("restart", "|\u25c0", "Restart", () => this.restart());
    button("back", "\u25c0", "Step back", () => this.move(-1));
    this.playButton = button("play", "Play", "Play", () => this.toggle());
    button("next", "\u25b6", "Step", () => this.move(1));
    const label = make("label", { class: "hp-speed" }, bar, "Speed ");
    this.select = make("select", {}, label);
    for (const speed of SPEEDS) make("option", { value: String(speed) }, this.select, speed + "\u00d7");
    this.select.value = "1";
    this.select.addEventListener("change", () => this.setSpeed(Number(this.select.value)));
  };

  // Shows another loop from its start.
  Player.prototype.load = function (data) {
    this.pause();
    this.data = data;
    this.angles = angles(data);
    this.svg.setAttribute("aria-label", "Dial of drive angles with the camera on a star field: target at position angle " + H.words.plain(data.target_deg) + ", rule " + data.rule);
    this.show = H.dial.draw(this.svg, data);
    this.gauge.load(data);
    this.list.replaceChildren();
    data.rows.forEach((row, i) => {
      const item = make("li", { class: row.long_swing ? "hp-swung" : "" }, this.list);
      make("button", { type: "button", "data-step": String(i), tabindex: "-1" }, item, H.words.brief(data, row) || "move");
    });
    this.jump(-1);
    return this;
  };

  Player.prototype.last = function () {
    return this.data.rows.length - 1;
  };

  // Goes to a step at once; -1 is the start.
  Player.prototype.jump = function (step) {
    this.stop();
    this.step = Math.max(-1, Math.min(this.last(), step));
    this.part = 1;
    this.told();
    this.paint();
    if (this.playing) this.wait();
  };

  // Steps, by hand: the drive is seen turning on the way forward.
  Player.prototype.move = function (by) {
    this.pause();
    if (by > 0) this.advance();
    else this.jump(this.step + by);
  };

  Player.prototype.restart = function () {
    this.pause();
    this.jump(-1);
  };

  Player.prototype.toggle = function () {
    if (this.playing) this.pause();
    else this.play();
  };

  Player.prototype.play = function () {
    if (this.playing || this.last() < 0) return;
    if (this.step >= this.last()) this.jump(-1);
    this.playing = true;
    this.label();
    this.advance();
  };

  Player.prototype.pause = function () {
    this.playing = false;
    this.stop();
    if (this.data && this.part < 1) {
      this.part = 1;
      this.paint();
    }
    this.label();
  };

  Player.prototype.stop = function () {
    cancelAnimationFrame(this.frame);
    clearTimeout(this.timer);
  };

  Player.prototype.label = function () {
    this.playButton.textContent = this.playing ? "Pause" : "Play";
    this.playButton.setAttribute("aria-label", this.playButton.textContent);
    this.root.dataset.playing = String(this.playing);
  };

  Player.prototype.setSpeed = function (speed) {
    this.speed = SPEEDS.includes(speed) ? speed : 1;
    this.select.value = String(this.speed);
  };

  // The next step, moving; then on, if it plays.
  Player.prototype.advance = function () {
    this.stop();
    if (this.step >= this.last()) {
      this.pause();
      return;
    }
    this.step += 1;
    const row = this.data.rows[this.step];
    const turned = Math.abs(row.reading_deg - row.from_deg);
    const whole = still() || turned === 0 ? 0 : Math.max(SHORTEST_MS, (500 + 5 * Math.min(turned, 360)) / this.speed);
    this.part = whole === 0 ? 1 : 0;
    this.told();
    if (whole === 0) {
      this.arrive();
      return;
    }
    // The timer ends the move: a page that is not seen gets no frames.
    this.timer = setTimeout(() => this.arrive(), whole);
    const start = performance.now();
    const tick = () => {
      this.part = Math.min(0.999, (performance.now() - start) / whole);
      this.paint();
      this.frame = requestAnimationFrame(tick);
    };
    tick();
  };

  // The end of a move: its solve is shown.
  Player.prototype.arrive = function () {
    this.stop();
    this.part = 1;
    this.paint();
    if (this.playing) this.wait();
  };

  Player.prototype.wait = function () {
    this.stop();
    this.timer = setTimeout(() => this.advance(), Math.max(SHORTEST_MS, 900 / this.speed));
  };

  // What is said and marked once for a step.
  Player.prototype.told = function () {
    const row = this.data.rows[this.step];
    this.root.dataset.step = String(this.step);
    this.root.dataset.finished = String(this.step === this.last());
    this.say.textContent = H.words.sentence(this.data, this.step);
    const flags = [];
    if (row && row.folded) flags.push(H.words.fold(row));
    if (row && row.long_swing) flags.push("long swing");
    this.flag.textContent = flags.join(" \u00b7 ");
    this.flag.classList.remove("hp-flash");
    const now = performance.now();
    // Keys that are held down step faster than anything may flash.
    if (row && row.folded && !still() && now - this.flashed > SHORTEST_MS) {
      this.flashed = now;
      // Read so that the flash starts anew.
      void this.flag.offsetWidth;
      this.flag.classList.add("hp-flash");
    }
    for (const button of this.list.querySelectorAll("button")) {
      const here = Number(button.dataset.step) === this.step;
      button.tabIndex = here || (this.step < 0 && button.dataset.step === "0") ? 0 : -1;
      if (here) button.setAttribute("aria-current", "step");
      else button.removeAttribute("aria-current");
      if (here) this.list.scrollTop = Math.max(0, button.parentNode.offsetTop - this.list.offsetTop - 40);
      if (here && this.list.contains(document.activeElement)) button.focus({ preventScroll: true });
    }
  };

  // Draws the moment: `part` of the way of the step.
  Player.prototype.paint = function () {
    const { data, step, part } = this;
    const row = data.rows[step];
    const done = data.rows.slice(0, part < 1 ? step : step + 1);
    const text = this.facts;
    const places = H.words.decimals(data);
    const first = data.rows[0];
    const reading = row ? along(row, part) : first ? first.from_deg : 0;
    const from = row ? row.from_deg : reading;
    const before = this.angles[step] === undefined ? this.angles[0] : this.angles[step];
    const drift = row ? this.angles[step + 1] - before - data.dial.sense * (row.reading_deg - row.from_deg) : 0;
    const angle = row ? before + data.dial.sense * (reading - row.from_deg) + part * drift : this.angles[0];
    this.show({ reading_deg: reading, angle_deg: angle, from_deg: from, long: Boolean(row && row.long_swing) });
    const solved = part < 1 || !row ? null : row.solved;
    text.reading.textContent = H.words.degrees(reading, places);
    text.solve.textContent = solved ? H.words.degrees(solved.position_angle_deg, places) : "\u2013";
    text.residual.textContent = solved ? H.words.residual(data, solved.residual_deg) : "\u2013";
    text.residual.className = "hp-residual" + (solved ? (H.words.within(data, row) ? " hp-good" : " hp-bad") : "");
    const end = row ? (part < 1 ? row.start_s + part * (row.moved_s - row.start_s) : row.end_s) : 0;
    text.elapsed.textContent = H.words.seconds(end);
    text.solves.textContent = String(done.filter((r) => r.solved).length);
    text.swings.textContent = String(done.filter((r) => r.long_swing).length);
    this.gauge.show(solved ? solved.residual_deg : null);
  };

  Player.prototype.key = function (event) {
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    const on = event.target.tagName;
    if (on === "SELECT") return;
    const faster = SPEEDS.indexOf(this.speed);
    const acts = {
      ArrowRight: () => this.move(1),
      ArrowDown: () => this.move(1),
      ArrowLeft: () => this.move(-1),
      ArrowUp: () => this.move(-1),
      Home: () => this.restart(),
      End: () => { this.pause(); this.jump(this.last()); },
      "+": () => this.setSpeed(SPEEDS[Math.min(SPEEDS.length - 1, faster + 1)]),
      "-": () => this.setSpeed(SPEEDS[Math.max(0, faster - 1)]),
    };
    // A button does by itself what Space asks of it.
    if (on !== "BUTTON") acts[" "] = () => this.toggle();
    SPEEDS.forEach((speed, i) => { acts[String(i + 1)] = () => this.setSpeed(speed); });
    if (!Object.hasOwn(acts, event.key)) return;
    event.preventDefault();
    acts[event.key]();
  };

  H.mount = function (element, data) {
    return new Player(element).load(data);
  };
})(window.HalfturnPlayer = window.HalfturnPlayer || {});
