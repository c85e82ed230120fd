// Shows how far the conventions of the sources' phases lie apart: the mean difference of phase, and ratio of amplitude,
// of each constituent over all gauges that two sources give constants for. `convert.mjs` turns phases accordingly.
//
//   npm install && npm run twins
import * as database from "@neaps/tide-database";

const SPELLINGS = {
  RHO: "RHO1", LAM2: "LAMBDA2", EPS2: "EP2", SIGMA1: "SGM", SA_KV: "SA", S1_KV: "S1", "M(KS)2": "MB2", ALPHA2: "MA2", NO1: "M1",
};
const LEAST_AMPLITUDE_M = 0.003;
const APART_DEG = 0.02;

const tides = [...database.allStations].filter((s) => s.kind === "tide" && s.type === "reference");
const from = (prefix) => tides.filter((s) => s.id.startsWith(prefix));
const spelled = (name) => SPELLINGS[name.toUpperCase()] ?? name.toUpperCase();
const near = (a, b) => Math.abs(a.latitude - b.latitude) < APART_DEG && Math.abs(a.longitude - b.longitude) < APART_DEG;

function compare(ones, others) {
  const sums = new Map();
  for (const one of ones) {
    for (const other of others.filter((o) => near(one, o))) {
      const theirs = new Map(other.harmonic_constituents.map((c) => [spelled(c.name), c]));
      for (const c of one.harmonic_constituents) add(sums, spelled(c.name), c, theirs.get(spelled(c.name)));
    }
  }
  for (const [name, { n, cos, sin, weight, ratio }] of sums) {
    const turn = (Math.atan2(sin, cos) * 180) / Math.PI;
    const agreement = Math.hypot(sin, cos) / weight;
    console.log(`  ${name.padEnd(8)} ${String(n).padStart(4)} pairs  ${turn.toFixed(1).padStart(7)} deg  agreement ${agreement.toFixed(2)}  amplitude ${(ratio / n).toFixed(2)}`);
  }
}

function add(sums, name, one, other) {
  if (!other || Math.min(one.amplitude, other.amplitude) < LEAST_AMPLITUDE_M) return;
  const sum = sums.get(name) ?? { n: 0, cos: 0, sin: 0, weight: 0, ratio: 0 };
  const weight = Math.min(one.amplitude, other.amplitude);
  const turn = ((one.phase - other.phase) * Math.PI) / 180;
  sum.n += 1;
  sum.cos += weight * Math.cos(turn);
  sum.sin += weight * Math.sin(turn);
  sum.weight += weight;
  sum.ratio += one.amplitude / other.amplitude;
  sums.set(name, sum);
}

console.log("NOAA less TICON-4");
compare(from("noaa/"), from("ticon/"));
console.log("Kartverket less TICON-4");
compare(from("kartverket/"), from("ticon/"));
