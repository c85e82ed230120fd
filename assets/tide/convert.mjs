// Turns the npm package @neaps/tide-database into stations.txt.gz, the table of tide stations that the program carries.
//
//   npm install && npm run convert
//
// Left out: stations under CC BY-NC, names from OpenStreetMap (`context`, ODbL), tidal streams, stations that the
// package's own quality gate rejects, and constants under 1 mm. README.md says what each column means.
import * as database from "@neaps/tide-database";
import { writeFileSync } from "node:fs";
import { gzipSync } from "node:zlib";

const LEAST_AMPLITUDE_M = 0.001;
const VERSION = "0.10.20260924";

// One spelling of each name, and one convention of phase for each constituent. `twins.mjs` shows where each turn
// comes from: gauges that two sources give constants for.
const PERIHELION_DEG = 283.1; // p', mean longitude of the sun's perigee, 2010
const SAME = { turn: 0, scale: 1 };
const KARTVERKET = {
  // Counted from perihelion: V = h - p'.
  SA_KV: { name: "SA", turn: PERIHELION_DEG, scale: 1 },
  // V = T + p' + 90 with the satellites of Foreman (1977): f = 0.70, u = 12.8 degrees, constant because p' is.
  S1_KV: { name: "S1", turn: 180 - (PERIHELION_DEG + 90 + 12.8), scale: 0.7 },
  // 2 tau - 3 s + 3 p: no compound of O1 and Q1.
  OQ2_KV: { name: "OQ2_KV", ...SAME },
};
const TICON = {
  // Written without the right angles that the others count with.
  M1: { name: "M1", turn: 90, scale: 1 },
  "2MK5": { name: "2MK5", turn: 90, scale: 1 },
  "2MO5": { name: "2MO5", turn: -90, scale: 1 },
  SGM: { name: "SIGMA1", turn: 180, scale: 1 },
  // No other source gives these, so that the convention of their phases could not be checked; the program does not
  // know the names and says what they come to.
  S3: { name: "S3", ...SAME },
  T3: { name: "T3", ...SAME },
  R3: { name: "R3", ...SAME },
};

const clean = (text) => (text ?? "").replace(/<[^>]*>/g, "").replace(/\s+/g, " ").trim();
const trimmed = (number, decimals) => String(Number(number.toFixed(decimals)));
const turned = (phase, by) => (((phase + by) % 360) + 360) % 360;

function conventions(station) {
  if (station.id.startsWith("kartverket/")) return KARTVERKET;
  if (station.id.startsWith("ticon/")) return TICON;
  return {};
}

// Of gauges of one source the package has handed some each other's names: `brighton` is called Teignmouth Pier. The id
// goes with coordinates and constants (a mean spring range of 12 m at `severn_bridge`). So a name that is spelled like
// the id of another gauge of the same source goes back to that gauge.
const letters = (text) => clean(text).normalize("NFKD").toLowerCase().replace(/[^a-z0-9]/g, "");
const source = (station) => station.id.split("-").slice(-2).join("-");
const place = (station) => letters(station.id.split("/")[1].split("-")[0]);

function names(stations) {
  const ids = new Set(stations.map((s) => `${source(s)} ${place(s)}`));
  const spelled = new Map(stations.map((s) => [`${source(s)} ${letters(s.name)}`, clean(s.name)]));
  const strayed = (s) => letters(s.name) !== place(s) && ids.has(`${source(s)} ${letters(s.name)}`);
  return new Map(
    stations
      .filter(strayed)
      .map((s) => [s.id, spelled.get(`${source(s)} ${place(s)}`)])
      .filter(([, name]) => name !== undefined),
  );
}

function constants(station) {
  const own = conventions(station);
  return station.harmonic_constituents
    .map(({ name, amplitude, phase }) => {
      const { name: to, turn, scale } = own[name] ?? { name: name.toUpperCase(), ...SAME };
      return { name: to, amplitude: amplitude * scale, phase: turned(phase, turn) };
    })
    .filter(({ amplitude }) => amplitude >= LEAST_AMPLITUDE_M)
    .sort((a, b) => b.amplitude - a.amplitude)
    .map(({ name, amplitude, phase }) => `${name} ${trimmed(amplitude * 1000, 1)} ${trimmed(phase, 2)}`)
    .join(",");
}

// Mean level above chart datum; where the package does not give both, heights are about mean level.
function level(station) {
  const { MSL, [station.chart_datum]: zero } = station.datums;
  const known = MSL !== undefined && zero !== undefined;
  return known ? { datum: station.chart_datum, z0: MSL - zero } : { datum: "MSL", z0: 0 };
}

function numbered() {
  const seen = new Map();
  return {
    of(text) {
      if (!seen.has(text)) seen.set(text, seen.size);
      return seen.get(text);
    },
    lines: (letter) => [...seen].map(([text, number]) => [letter, number, text].join("\t")),
  };
}

const credits = numbered();
const notes = numbered();
notes.of("");

const head = (station, datum) => {
  const disclaimer = clean(station.disclaimers);
  const note = disclaimer === "No obvious issues" ? "" : disclaimer.replace(/^No obvious issues /, "");
  return [
    station.id,
    renamed.get(station.id) ?? clean(station.name),
    station.country_code,
    clean(station.region),
    trimmed(station.latitude, 5),
    trimmed(station.longitude, 5),
    datum,
    credits.of(clean(station.attribution)),
    notes.of(note),
    station.quality?.score ?? "",
  ];
};

const free = [...database.stations].filter((s) => s.kind === "tide" && s.license.commercial_use);
const references = free.filter((s) => s.type === "reference" && s.harmonic_constituents.length > 0);
const renamed = names(free.filter((s) => s.id.startsWith("ticon/")));
const known = new Set(references.map((s) => s.id));
const subordinates = free.filter((s) => s.type === "subordinate" && known.has(s.offsets.reference));

const byId = (a, b) => (a.id < b.id ? -1 : 1);
const reference = (station) => {
  const { datum, z0 } = level(station);
  return ["R", ...head(station, datum), trimmed(z0, 3), constants(station)].join("\t");
};
const subordinate = (station) => {
  const { reference: id, time, height } = station.offsets;
  const offsets = [time.high, time.low, height.type, trimmed(height.high, 3), trimmed(height.low, 3)];
  return ["S", ...head(station, station.chart_datum ?? ""), id, ...offsets].join("\t");
};

const body = [...references.sort(byId).map(reference), ...subordinates.sort(byId).map(subordinate)];
const lines = [
  `# Tide stations, converted from @neaps/tide-database ${VERSION}. See README.md beside this file.`,
  ...credits.lines("C"),
  ...notes.lines("N"),
  ...body,
];
const text = lines.join("\n") + "\n";
const packed = gzipSync(text, { level: 9 });
writeFileSync(new URL("stations.txt.gz", import.meta.url), packed);
console.log(`${references.length} reference and ${subordinates.length} subordinate stations`);
for (const [id, name] of renamed) console.log(`${id} is ${name}`);
console.log(`${text.length} bytes of text, ${packed.length} compressed`);
