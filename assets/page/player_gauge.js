// The player's gauge: the residual against the tolerance, larger than it could be seen on the dial.
(function (H) {
  "use strict";
  const HALF = 140;

  function build(parent) {
    const node = H.dial.node;
    const svg = node("svg", { class: "hp-gauge", viewBox: "-155 0 310 40", role: "img", "aria-label": "Residual against the tolerance" }, parent);
    let reach = 1;
    let mark = null;
    const at = (deg) => Math.max(-HALF, Math.min(HALF, HALF * deg / reach));

    function load(data) {
      const tolerance = data.dial.tolerance_deg;
      const largest = Math.max(...data.rows.map((row) => (row.solved ? Math.abs(row.solved.residual_deg) : 0)), 0);
      // The tolerance stays visible however large the residual is.
      reach = 1.2 * Math.max(tolerance, Math.min(largest, 8 * tolerance));
      svg.replaceChildren();
      node("line", { class: "hp-axis", x1: -HALF, x2: HALF, y1: 14, y2: 14 }, svg);
      node("rect", { class: "hp-allowed", x: at(-tolerance), width: at(tolerance) - at(-tolerance), y: 6, height: 16 }, svg);
      const label = (x, text, anchor) => node("text", { class: "hp-number", x, y: 36, "text-anchor": anchor }, svg, text);
      const wide = at(tolerance) > 36;
      if (wide) label(at(-tolerance), H.words.plain(-tolerance), "middle");
      label(wide ? at(tolerance) : 0, (wide ? "" : "\u00b1") + H.words.plain(tolerance), "middle");
      if (wide) label(0, "0", "middle");
      mark = node("path", { class: "hp-mark", d: "M0 2L5 14L0 26L-5 14Z" }, svg);
    }

    function show(residual_deg) {
      mark.setAttribute("visibility", residual_deg === null ? "hidden" : "visible");
      if (residual_deg !== null) mark.setAttribute("transform", "translate(" + at(residual_deg) + " 0)");
    }

    return { load, show };
  }

  H.gauge = { build };
})(window.HalfturnPlayer = window.HalfturnPlayer || {});
