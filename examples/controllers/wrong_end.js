// A subtly wrong controller for `halfturn judge`, in JavaScript without any package.
//
// Its fold leaves the end of the arc where it is: `>` stands for `>=`. The judge fails it for `arc`, at targets that
// are exact multiples of the period. Run: halfturn judge -- node examples/controllers/wrong_end.js
"use strict";

/** Euclid's remainder: in [0, period). */
function remainder(angle, period) {
  const rest = angle % period;
  return rest < 0 ? rest + period : rest;
}

/** Into [start, start + period], which should not hold its end. */
function fold(angle, start, period) {
  while (angle > start + period) angle -= period;
  while (angle < start) angle += period;
  return angle;
}

/** Into (-period/2, +period/2]. */
function residual(angle, period) {
  const rest = remainder(angle, period);
  return rest > period / 2 ? rest - period : rest;
}

let told, reading, solves;

function move(wanted, band) {
  const start = told.arc_start_deg;
  const width = told.arc_width_deg;
  if (told.travel === "endless") {
    const centre = start + width / 2; // whole turns do not matter
    wanted = centre + residual(wanted - centre, 360);
  }
  const stays = wanted >= start - band && wanted <= start + width + band; // and again
  return { do: "move", drive_deg: stays ? wanted : fold(wanted, start, width) };
}

const answers = {
  begin(event) {
    told = event;
    reading = event.reading_deg;
    solves = 0;
    return move(event.sense * (event.target_deg - event.zero_point_deg), 0);
  },
  moved(event) {
    reading = event.reading_deg;
    return { do: "solve" };
  },
  refused(event) {
    return { do: "give-up", why: event.why };
  },
  "solve-failed"() {
    return { do: "solve" };
  },
  solved(event) {
    solves += 1;
    const error = residual(told.target_deg - event.position_angle_deg, 360 / told.symmetry);
    if (Math.abs(error) <= told.tolerance_deg) return { do: "done" };
    if (solves >= told.max_solves) return { do: "give-up", why: "no solves left" };
    return move(reading + told.sense * error, told.band_deg);
  },
};

require("node:readline")
  .createInterface({ input: process.stdin })
  .on("line", (line) => {
    const event = JSON.parse(line);
    if (event.event === "end") process.exit(0);
    process.stdout.write(JSON.stringify(answers[event.event](event)) + "\n");
  });
