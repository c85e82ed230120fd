"use strict";
// The page of a watch. What it shows comes from the watch, and is put in as text, never as markup.

const by = (id) => document.getElementById(id);
const LIGHTS = ["day", "dusk", "night"];
let greeting = null;
let told = null;
let chart = [];
let heardAt = performance.now();
let isStale = false;

// --- what is shown

function put(id, text, ink) {
  const element = by(id);
  if (element.textContent !== text) element.textContent = text;
  if (ink) element.className = ink;
}

function made(name, text, ink) {
  const element = document.createElement(name);
  element.textContent = text;
  if (ink) element.className = ink;
  return element;
}

function show(news) {
  told = news;
  by("watch").hidden = false;
  put("place", news.place);
  put("boat", news.boat);
  put("time", `${news.day}  ${news.time}`);
  put("verdict", news.verdict[0], news.verdict[1]);
  // The alert above says it already.
  by("verdict").hidden = by("since").hidden = Boolean(news.head && news.head.is_verdict);
  put("since", news.since);
  put("evidence", news.evidence);
  by("room").hidden = !news.room;
  if (news.room) put("room-figure", news.room[0], news.room[1]);
  put("room-name", news.room_name);
  document.title = `${news.head ? news.head.word : news.verdict[0]} ${news.boat}`;
  showHead(news.head);
  showAnswer(news.asks);
  fill("facts", news.facts.flatMap(fact));
  by("coming-part").hidden = news.coming.length === 0;
  fill("coming", news.coming.flatMap(([time, words]) => [made("dt", time), made("dd", words)]));
  fill("alerts", news.alerts.length ? news.alerts.map(entry) : [made("li", "None.", "dim")]);
  if (news.chart) {
    chart = news.chart;
    draw();
  }
}

function showHead(head) {
  by("head").hidden = !head;
  if (!head) return;
  by("head").className = `${head.is_alarm ? "alarm" : ""} ${head.waits ? "waits" : ""}`;
  put("head-word", head.word);
  put("head-how", head.how);
  put("head-why", head.why);
  put("head-todo", head.todo);
}

function showAnswer(asks) {
  by("acknowledge").hidden = !(greeting && greeting.acknowledge && asks);
}

function fill(id, children) {
  by(id).replaceChildren(...children);
}

function fact({label, value, notes}) {
  const all = made("dd", "");
  if (value[0]) all.append(made("b", value[0], value[1]));
  for (const [words, ink] of notes) all.append(made("span", words, ink));
  return [made("dt", label), all];
}

function entry({title, how, why}) {
  const line = made("li", "");
  line.append(made("b", title[0], title[1]), made("span", how, "dim"), made("div", why));
  return line;
}

// The screen's chart, letter by letter: a letter of braille is eight dots, any other is written.
const DOTS = [[0, 0, 1], [0, 1, 2], [0, 2, 4], [1, 0, 8], [1, 1, 16], [1, 2, 32], [0, 3, 64], [1, 3, 128]];

function draw() {
  const canvas = by("chart");
  const side = canvas.clientWidth;
  const rows = chart.length;
  if (!side || !rows) return;
  const sharp = window.devicePixelRatio || 1;
  canvas.width = canvas.height = Math.round(side * sharp);
  const pen = canvas.getContext("2d");
  pen.scale(sharp, sharp);
  const high = side / rows;
  const wide = high / 2;
  const inks = getComputedStyle(document.documentElement);
  pen.font = `${(wide / 0.6).toFixed(1)}px "DejaVu Sans Mono",ui-monospace,monospace`;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  chart.forEach((runs, row) => {
    let column = 0;
    for (const [words, ink] of runs) {
      pen.fillStyle = inks.getPropertyValue(`--${ink}`) || "currentColor";
      for (const letter of words) {
        drawLetter(pen, letter, column * wide, row * high, wide, high);
        column += 1;
      }
    }
  });
}

function drawLetter(pen, letter, x, y, wide, high) {
  const bits = letter.codePointAt(0) - 0x2800;
  if (bits < 0 || bits > 255) {
    if (letter !== " ") pen.fillText(letter, x + wide / 2, y + high / 2);
    return;
  }
  for (const [right, down, bit] of DOTS) {
    if (bits & bit) {
      pen.beginPath();
      pen.arc(x + (right + 0.5) * wide / 2, y + (down + 0.5) * high / 4, wide * 0.19, 0, 7);
      pen.fill();
    }
  }
}

// --- what is heard

let audio = null;
let sounding = "quiet";
let soundedAt = 0;

const isHeard = () => audio !== null && audio.state === "running";

function play(signal) {
  if (!isHeard()) return;
  let at = audio.currentTime + 0.05;
  for (const [hz, ms, rough] of signal.notes) {
    if (hz) tone(at, hz, ms / 1000, rough);
    at += ms / 1000;
  }
}

function tone(at, hz, long, rough) {
  const loud = audio.createGain();
  loud.gain.setValueAtTime(0, at);
  loud.gain.linearRampToValueAtTime(0.7, at + 0.005);
  loud.gain.setValueAtTime(0.7, at + long - 0.005);
  loud.gain.linearRampToValueAtTime(0, at + long);
  loud.connect(audio.destination);
  for (const [times, share] of rough ? [[1, 1], [3, 1 / 3]] : [[1, 1]]) {
    const wave = audio.createOscillator();
    const part = audio.createGain();
    wave.frequency.value = hz * times;
    part.gain.value = share;
    wave.connect(part).connect(loud);
    wave.start(at);
    wave.stop(at + long);
  }
}

function sound() {
  if (!greeting) return;
  const wanted = isStale ? "failure" : told ? told.sound : "quiet";
  const signal = greeting[wanted];
  const now = performance.now();
  if (signal && (wanted !== sounding || now - soundedAt >= signal.every_ms)) {
    soundedAt = now;
    play(signal);
  }
  sounding = wanted;
}

function showSound() {
  by("sound").setAttribute("aria-pressed", String(isHeard()));
  put("sound", isHeard() ? "Sound on" : "Touch for sound");
  put("sound-words", isHeard()
    ? "Sounds as long as this page is open and the phone's screen is on."
    : "This phone is silent until that button has been touched.");
}

by("sound").addEventListener("click", async () => {
  audio = audio || new AudioContext();
  await audio.resume();
  showSound();
  if (greeting) play(greeting.warning);
});

// --- whether anything is heard of the watch

function look() {
  const silent = performance.now() - heardAt;
  const limit = greeting ? greeting.stale_ms : 10000;
  const was = isStale;
  isStale = silent >= limit;
  by("stale").hidden = !isStale;
  document.documentElement.classList.toggle("is-stale", isStale);
  if (isStale) {
    put("stale-word", greeting ? greeting.nobody_watches : "NOT CONNECTED");
    const last = told ? ` The last it said was at ${told.time}.` : "";
    put("stale-why", `This phone has heard nothing of the watch for ${Math.floor(silent / 1000)} s.${last}`);
    document.title = by("stale-word").textContent;
  } else if (was && told) {
    show(told);
  }
  sound();
  showSound();
}

let source = null;

function listen() {
  source = new EventSource("stream");
  source.addEventListener("greeting", (event) => { greeting = JSON.parse(event.data); });
  source.addEventListener("watch", (event) => {
    heardAt = performance.now();
    show(JSON.parse(event.data));
    look();
  });
  source.addEventListener("error", () => {
    if (source.readyState === EventSource.CLOSED) setTimeout(listen, 3000);
  });
}

// --- what is done

by("acknowledge").addEventListener("click", async () => {
  let words = "";
  try {
    const answer = await fetch("acknowledge", {method: "POST", headers: {"nightrode-act": "1"}});
    if (!answer.ok) words = (await answer.text()) || "It is not allowed from here.";
  } catch {
    words = "The watch did not answer. It is not acknowledged.";
  }
  by("answer").hidden = !words;
  put("answer", words);
});

function light(name) {
  document.documentElement.dataset.light = name;
  put("light", `Light: ${name}`);
  draw();
}

by("light").addEventListener("click", () => {
  const next = LIGHTS[(LIGHTS.indexOf(document.documentElement.dataset.light) + 1) % LIGHTS.length];
  try { localStorage.setItem("light", next); } catch { /* It is asked again next time. */ }
  light(next);
});

let kept = null;
try { kept = localStorage.getItem("light"); } catch { /* A browser may keep nothing. */ }
light(LIGHTS.includes(kept) ? kept : matchMedia("(prefers-color-scheme: light)").matches ? "day" : "dusk");
window.addEventListener("resize", draw);
document.addEventListener("visibilitychange", look);
setInterval(look, 1000);
listen();
