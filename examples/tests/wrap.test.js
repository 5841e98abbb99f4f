// A wrap rule under test with node:test: each test vector is a test, and the judge is one more.
//
// halfturn vectors > wrap-vectors.csv; then node --test examples/tests/wrap.test.js
"use strict";
const assert = require("node:assert");
const { spawnSync } = require("node:child_process");
const { readFileSync } = require("node:fs");
const { join } = require("node:path");
const { describe, test } = require("node:test");

const VECTORS = process.env.WRAP_VECTORS ?? "wrap-vectors.csv";
const HALFTURN = process.env.HALFTURN ?? "halfturn";
const CONTROLLER = join(__dirname, "..", "controllers", "correct.js");

const remainder = (angle, period) => ((angle % period) + period) % period;

/** Your function stands here. This one is the hysteresis band. */
function command(correction, wanted, start, period, band, endless) {
  if (endless) {
    const centre = start + period / 2;
    wanted = centre + 180 - remainder(180 - (wanted - centre), 360);
  }
  if (!correction) band = 0;
  if (wanted >= start - band && wanted < start + period + band) return wanted;
  const folded = start + remainder(wanted - start, period);
  return folded < start + period ? folded : start;
}

function vectors(rule) {
  const [names, ...lines] = readFileSync(VECTORS, "utf8").trim().split("\n").map((l) => l.split(","));
  const rows = lines.map((line) => Object.fromEntries(names.map((name, i) => [name, line[i]])));
  return rows.filter((row) => row.rule === rule);
}

describe("the hysteresis band", () => {
  for (const row of vectors("hysteresis-band")) {
    test(`vector ${row.id}`, () => {
      const numbers = ["wanted_deg", "arc_start_deg", "period_deg", "band_deg"].map((key) => Number(row[key]));
      const got = command(row.correction === "true", ...numbers, row.travel === "endless");
      let off = Math.abs(got - Number(row.command_deg));
      if (row.edge === "true") off = Math.min(off, Math.abs(off - numbers[2])); // the other of two equivalent angles
      assert.ok(off <= 1e-9, `${got} instead of ${row.command_deg}`);
    });
  }
});

test("the judge", () => {
  const judge = ["judge", "--rule", "hysteresis-band", "--scenarios", "300", "--", process.execPath, CONTROLLER];
  const done = spawnSync(HALFTURN, judge, { encoding: "utf8" });
  assert.strictEqual(done.status, 0, done.stdout);
});
