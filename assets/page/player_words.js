// The player's numbers and sentences: the JSON of a trace -> text.
(function (H) {
  "use strict";
  const MINUS = "\u2212";
  const NBSP = "\u00a0";

  function fixed(value, decimals) {
    const text = value.toFixed(decimals);
    // A zero has no sign.
    return (Number(text) === 0 ? text.replace("-", "") : text).replace("-", MINUS);
  }

  // Decimals that can be told from the tolerance, as in the report's table.
  function decimals(data) {
    const t = data.dial.tolerance_deg;
    return t >= 0.1 ? 2 : t >= 0.01 ? 3 : 4;
  }

  function degrees(value, places) {
    return fixed(value, places) + "\u00b0";
  }

  function signed(value, places) {
    return (value > 0 ? "+" : "") + degrees(value, places);
  }

  // As short as it can be: 180, 0.5.
  function plain(value) {
    return String(Number(value.toFixed(4))).replace("-", MINUS) + "\u00b0";
  }

  function seconds(value) {
    return fixed(value, 1) + NBSP + "s";
  }

  function count(n, one, many) {
    return n + NBSP + (n === 1 ? one : many);
  }

  // More decimals where rounding would put the residual on the tolerance.
  function residual(data, value) {
    let places = decimals(data);
    const limit = data.dial.tolerance_deg;
    while (places < 7 && Math.abs(Math.abs(value) - limit) < 0.5 * Math.pow(10, -places)) places += 1;
    return signed(value, places);
  }

  function within(data, row) {
    return Math.abs(row.solved.residual_deg) <= data.dial.tolerance_deg;
  }

  function foldedBy(row) {
    return Math.abs(row.command_deg - row.wanted_deg);
  }

  function fold(row) {
    return "folded by " + plain(foldedBy(row));
  }

  // The row in a few words, for the list of steps.
  function brief(data, row) {
    const words = [];
    if (row.refused) words.push("refused");
    if (row.command_deg === null) words.push("solve again");
    if (row.folded) words.push(fold(row));
    if (row.long_swing) words.push("long swing");
    if (row.failed_attempts > 0) words.push(count(row.failed_attempts, "failed solve", "failed solves"));
    if (row.solved) words.push("residual " + residual(data, row.solved.residual_deg));
    return words.join(", ");
  }

  function movement(data, row) {
    const places = decimals(data);
    if (row.command_deg === null) return "No move: it solves once more.";
    const wanted = "Wanted " + degrees(row.wanted_deg, places);
    const command = row.folded
      ? wanted + " leaves the arc: " + fold(row) + " to " + degrees(row.command_deg, places) + "."
      : wanted + ", commanded as it is.";
    if (row.refused) return command + " The command lies outside the stops, so the drive refuses it.";
    const length = Math.abs(row.reading_deg - row.from_deg);
    if (length === 0) return command + " The drive stays where it is.";
    const name = row.long_swing ? " A long swing: the drive turns by " : " The drive turns by ";
    return command + name + degrees(length, places) + " to " + degrees(row.reading_deg, places) + ".";
  }

  function solve(data, row) {
    const failed = row.failed_attempts > 0
      ? count(row.failed_attempts, "attempt to solve fails", "attempts to solve fail") + ". "
      : "";
    if (!row.solved) return failed;
    return failed + "Solved " + degrees(row.solved.position_angle_deg, decimals(data)) + ": residual "
      + residual(data, row.solved.residual_deg) + ", " + (within(data, row) ? "within" : "outside")
      + " the tolerance of " + plain(data.dial.tolerance_deg) + ".";
  }

  function ending(data) {
    const f = data.figures;
    return "The loop ends " + f.outcome + " after " + count(f.solves, "solve", "solves") + ", "
      + count(f.long_swings, "long swing", "long swings") + " and " + seconds(f.elapsed_s) + ".";
  }

  // What happens at a step, said once.
  function sentence(data, step) {
    const rows = data.rows;
    if (rows.length === 0) return "Nothing was traced.";
    if (step < 0) {
      return "Start: the drive is parked at " + plain(rows[0].from_deg) + ". The wanted position angle is "
        + plain(data.target_deg) + ".";
    }
    const row = rows[step];
    const last = step === rows.length - 1;
    const parts = ["Step " + (step + 1) + " of " + rows.length + ".", movement(data, row), solve(data, row)];
    if (last) parts.push(data.rows_left_out > 0 ? count(data.rows_left_out, "further row is", "further rows are") + " not shown." : ending(data));
    return parts.filter(Boolean).join(" ").trim();
  }

  H.words = { degrees, plain, seconds, count, residual, within, decimals, fold, brief, sentence };
})(window.HalfturnPlayer = window.HalfturnPlayer || {});
