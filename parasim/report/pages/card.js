"use strict";
// Nothing is computed here but rows looked up in the table, straight lines between them, units, and the turn of
// all places with the wind. The table is made by parasim.
const card = JSON.parse(document.getElementById("data").textContent);
const $ = (id) => document.getElementById(id);
const winds = card.winds.map((row) => row.wind_m_s);
const heights = card.heights.map((row) => row.height_m);
const POINTS = ["N", "NE", "E", "SE", "S", "SW", "W", "NW"];
const KINDS = { wind: "wind_speed", height: "length" };
const HOLD = 600; // until a line is ticked [ms]
const SMALLEST = 1e-6; // what typed units may miss the table's edge by [m, m/s]

// Halves go to the even neighbour, as parasim prints them.
const fixed = (value, digits) => (digits === 0 && Math.abs(value % 1) === 0.5 ? 2 * Math.round(value / 2) : value).toFixed(digits);
function bare(value, kind) {
  const unit = card.units[kind], text = fixed(value / unit.size, unit.digits);
  return Number(text) === 0 ? text.replace("-", "") : text;
}
const show = (value, kind) => `${bare(value, kind)} ${card.units[kind].label}`;
const steps = (length) => `${fixed(length / card.step_m, 0)} steps`;
const percent = (part) => `${fixed(100 * part, 0)} %`;
function bearing(degrees) {
  const whole = ((Math.round(degrees) % 360) + 360) % 360;
  return `${String(whole).padStart(3, "0")} deg (${POINTS[Math.round(whole / 45) % 8]})`;
}

// Where a value lies on a rising axis: the row below it and the part of the way to the next; null outside.
function place(axis, value) {
  const last = axis.length - 1;
  if (!(value >= axis[0] - SMALLEST && value <= axis[last] + SMALLEST)) return null;
  let i = 0;
  while (i < last - 1 && value >= axis[i + 1]) i += 1;
  return [i, Math.min(Math.max((value - axis[i]) / (axis[i + 1] - axis[i]), 0), 1)];
}
function between(low, high, part) {
  const found = {};
  for (const key of Object.keys(low)) {
    if (typeof low[key] === "number") found[key] = part === 1 ? high[key] : low[key] + part * (high[key] - low[key]);
  }
  return found;
}
function lookUp(wind, height) {
  const w = place(winds, wind), h = place(heights, height);
  if (!w || !h) return null;
  const [j, along] = w, [i, up] = h;
  const row = (k) => between(card.heights[k].cells[j], card.heights[k].cells[j + 1], along);
  const below = card.heights[up === 1 ? i + 1 : i];
  return { ...between(row(i), row(i + 1), up), ...between(card.winds[j], card.winds[j + 1], along), circle: below };
}

// The same at the edge of the table for what lies beyond it: what speaks against it there holds beyond it too.
function atTheEdge(wind, height) {
  const nearest = (axis, value) => Math.min(Math.max(value, axis[0]), axis[axis.length - 1]);
  return lookUp(nearest(winds, wind), nearest(heights, height));
}

function typed(id) {
  const text = $(id).value.trim();
  return text === "" || !Number.isFinite(Number(text)) ? NaN : Number(text);
}
function current() {
  const size = (kind) => card.units[kind].size;
  return {
    wind: typed("wind") * size("wind_speed"),
    from: ((typed("from") % 360) + 360) % 360,
    height: typed("height") * size("length"),
  };
}

function people(found) {
  const near = found ? `within ${show(found.radius_m, "length")} (${steps(found.radius_m)}) of the point under the release` : "where it can land";
  return `People: anybody ${near}, or who may come there. ${card.nobody_below}`;
}
function outside(set) {
  const found = [];
  const range = (axis, kind) => `${show(axis[0], kind)} to ${show(axis[axis.length - 1], kind)}`;
  const edge = Number.isNaN(set.wind + set.height) ? "nothing is known." : "nothing is known but what holds at its edge, which follows.";
  if (!place(winds, set.wind)) found.push(`Wind outside this card's table (${range(winds, "wind_speed")}): ${edge}`);
  if (set.height < card.least_height_m - SMALLEST) {
    found.push(`Height under the least for one circle and the final, ${show(card.least_height_m, "length")}, where this card's table begins: ${edge}`);
  } else if (!place(heights, set.height)) {
    found.push(`Height outside this card's table (${range(heights, "length")}): ${edge}`);
  }
  if (Number.isNaN(set.from)) found.push("Wind direction not given: nothing is known of where to release.");
  return found;
}
function landingStops(set, found) {
  const already = set.wind > found.wind_m_s + SMALLEST ? `, already in ${show(found.wind_m_s, "wind_speed")}` : "";
  const stops = [], words = { into: "into the wind", across: "across the wind", with: "with the wind behind it" };
  for (const [limit, key, kind, name] of [
    [card.limits.max_energy_j, "energy_COURSE_j", "energy", "energy"],
    [card.limits.max_ground_speed_m_s, "ground_speed_COURSE_m_s", "speed", "speed over the ground"],
  ]) {
    if (limit === null) continue;
    const over = Object.keys(words).filter((course) => found[key.replace("COURSE", course)] > limit);
    if (!over.length) continue;
    const said = over.map((course) => `${show(found[key.replace("COURSE", course)], kind)} ${words[course]}`);
    stops.push(`Landing with the brakes released${already}: ${name} ${said.join(", ")}; the payload's limit is ${show(limit, kind)}.`);
  }
  return stops;
}
function tableStops(set, found) {
  const stops = [];
  if (set.wind > found.limit_m_s) {
    const gust = found.gust_m_s > 0 ? `, gusts of ${show(found.gust_m_s, "wind_speed")}` : "";
    stops.push(`Wind of ${show(set.wind, "wind_speed")}${gust} over its limit of ${show(found.limit_m_s, "wind_speed")}: no release point.`);
  } else if (found.box_m <= 0) {
    stops.push("No room to be off: the low end of the band just reaches, or does not.");
  }
  if (card.minimum_release_height_m !== null && set.height < card.minimum_release_height_m) {
    stops.push(`Packed it needs ${show(card.minimum_release_height_m, "length")} at least to open and glide.`);
  }
  if (found.circle.brake_fraction > card.spirals_from_brake_fraction) {
    stops.push(`It may spiral from ${percent(card.spirals_from_brake_fraction)} of one brake on, and circles at ${percent(found.circle.brake_fraction)}.`);
  }
  return [...stops, ...landingStops(set, found)];
}

function list(id, texts) {
  $(id).replaceChildren(...texts.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
}
function figures(pairs) {
  $("figures").replaceChildren(...pairs.flatMap(([head, words]) => [
    Object.assign(document.createElement("dt"), { textContent: head }),
    Object.assign(document.createElement("dd"), { textContent: words }),
  ]));
}

// Bearing from the target of what lies so far upwind of it and to the right of that. [deg]
const turned = (set, found) => set.from + (Math.atan2(found.right_m, found.upwind_m) * 180) / Math.PI;

function releaseWords(set, found) {
  const far = Math.hypot(found.upwind_m, found.right_m);
  const side = set.wind === 0 ? "from" : Math.abs(found.upwind_m) < 0.7 * far ? "across the wind from" : found.upwind_m > 0 ? "upwind of" : "downwind of";
  const there = far < 2 ? "Right over the target" : `${show(far, "length")} (${steps(far)}) ${side} the target, bearing ${bearing(turned(set, found))} from it`;
  return there + (found.box_m > 0 ? `, within ${show(found.box_m, "length")} of that point.` : ".");
}
function draw(set, found) {
  const far = Math.hypot(found.upwind_m, found.right_m), box = Math.max(found.box_m, 0);
  const scale = 70 / Math.max(far + box, 1), angle = (turned(set, found) * Math.PI) / 180;
  const x = scale * far * Math.sin(angle), y = -scale * far * Math.cos(angle);
  const put = (id, values) => Object.entries(values).forEach(([name, value]) => $(id).setAttribute(name, value));
  const head = scale * far > 20 ? "url(#head)" : "none"; // a shorter arrow is all head
  put("way", { x1: 0, y1: 0, x2: x, y2: y, "marker-end": head });
  put("spot", { cx: x, cy: y });
  put("box", { cx: x, cy: y, r: scale * box });
  put("wind-arrow", { transform: `rotate(${set.from})` });
  put("wind-word", { transform: `rotate(${-set.from} 18 -87)` });
}
function answer() {
  const set = current(), found = lookUp(set.wind, set.height), away = outside(set);
  const edge = atTheEdge(set.wind, set.height);
  const known = found && !away.length, advised = known && set.wind <= found.limit_m_s;
  const stops = [...away, ...(edge ? tableStops(set, edge) : []), ...card.failures.map((words) => `Limit not kept: ${words}.`)];
  list("stops", [people(found), ...stops]);
  list("unknown", card.unknown);
  const count = stops.length === 0 ? "none of the reasons not to fly that this card knows" : `${stops.length} reason${stops.length === 1 ? "" : "s"} not to fly`;
  $("state").textContent = `People first: is anybody there? Besides: ${count}; ${card.unknown.length} not known.`;
  $("clear").textContent = found ? `${show(found.radius_m, "length")} = ${steps(found.radius_m)}` : "Not known: outside this card's table.";
  $("release").textContent = !known ? "Not known: outside this card's table." : advised ? releaseWords(set, found) : "No release point in this wind.";
  $("unopened").textContent = found ? `It arrives with ${show(found.unopened_energy_j, "energy")} and drifts ${show(found.unopened_drift_m, "length")}.` : "Not known: outside this card's table.";
  $("map").style.display = advised ? "" : "none";
  if (advised) {
    draw(set, found);
    $("map").setAttribute("aria-label", `Map, north up. Wind from ${bearing(set.from)}. Release: ${$("release").textContent}`);
  }
  figures(found ? rows(found) : []);
  remember();
}
function rows(found) {
  const circle = found.circle;
  return [
    ["aloft", `${show(found.time_s, "time")} (${bare(found.time_low_s, "time")} to ${show(found.time_high_s, "time")}) gliding straight, ${show(found.plan_time_s, "time")} by the plan`],
    ["circle left", `${percent(circle.brake_fraction)} of the brake (${show(circle.pull_mm / 1000, "small_length")}); one takes ${show(circle.height_lost_per_turn_m, "length")} in ${show(circle.turn_time_s, "time")} and drifts ${show(found.drift_per_circle_m, "length")}`],
    ["leave the circle", `with ${show(circle.least_height_m, "length")} left at the least: one circle and the final`],
    ["wind limit", `${show(found.limit_m_s, "wind_speed")} at ${show(card.measured_at_m, "length")} above ground, from this height; where a list names another, the lower counts`],
  ];
}

// What is kept: ticks, notes and settings, where the browser has room for it.
const KEY = `field card ${card.name} ${card.digest}`;
let store = { ticks: {}, flights: [], set: {}, now: {} };
function remember() {
  store.set = Object.fromEntries(["wind", "from", "height"].map((id) => [id, $(id).value]));
  try {
    localStorage.setItem(KEY, JSON.stringify(store));
    $("kept").textContent = "Ticks and notes are kept on this device.";
  } catch {
    $("kept").textContent = "This browser keeps nothing: ticks and notes are lost when the page is closed.";
  }
}
function recall() {
  try {
    const found = JSON.parse(localStorage.getItem(KEY));
    if (found && typeof found === "object") store = { ...store, ...found };
  } catch { /* nothing was kept */ }
}

// Done when a button is held, by finger, mouse or key; at once by a screen reader's own click.
function held(button, act) {
  let timer = 0, last = -HOLD;
  const start = () => {
    clearTimeout(timer);
    last = performance.now();
    button.classList.add("holding");
    timer = setTimeout(() => { button.classList.remove("holding"); act(); }, HOLD);
  };
  const stop = () => {
    clearTimeout(timer);
    button.classList.remove("holding");
  };
  const isKey = (event) => event.key === " " || event.key === "Enter";
  button.addEventListener("pointerdown", (event) => { if (event.button === 0) start(); });
  button.addEventListener("pointerup", () => { last = performance.now(); });
  for (const name of ["pointerup", "pointerleave", "pointercancel", "blur"]) button.addEventListener(name, stop);
  button.addEventListener("keydown", (event) => { if (isKey(event)) { event.preventDefault(); if (!event.repeat) start(); } });
  button.addEventListener("keyup", (event) => { if (isKey(event)) { event.preventDefault(); last = performance.now(); stop(); } });
  button.addEventListener("contextmenu", (event) => event.preventDefault());
  button.addEventListener("click", (event) => { if (event.detail === 0 && performance.now() - last > HOLD) act(); });
}
const ticks = [...document.querySelectorAll("[data-tick]")];
function showTicks() {
  for (const each of ticks) each.setAttribute("aria-checked", String(Boolean(store.ticks[each.dataset.tick])));
}
for (const each of ticks) {
  held(each, () => {
    store.ticks[each.dataset.tick] = !store.ticks[each.dataset.tick];
    showTicks();
    remember();
  });
}
held($("anew"), () => { store.ticks = {}; showTicks(); remember(); });

// Notes. Letters beyond plain ones are written as escapes, so that any reader of YAML has them back.
const escaped = (letter) => {
  const code = letter.codePointAt(0);
  if (letter === '"' || letter === "\\") return `\\${letter}`;
  if (code >= 32 && code < 127) return letter;
  if (code < 32 || (code >= 0xd800 && code < 0xe000) || code >= 0xfffe && code < 0x10000) return " ";
  return code < 0x10000 ? `\\u${code.toString(16).padStart(4, "0")}` : `\\U${code.toString(16).padStart(8, "0")}`;
};
const quoted = (text, most) => `"${[...text].slice(0, most).map(escaped).join("")}"`;
const plain = (text) => [...text].map((letter) => (letter >= " " && letter <= "~" ? letter : "?")).join("");
const FIELDS = ["place", "at", "video", "mass"];
const MEASURED = ["height_lost", "circles", "time", "distance", "start", "headwind", "left", "right"];
const UNIT = { height_lost: "length", distance: "length", start: "length", headwind: "wind_speed" };
const LIMIT = { start: "height", headwind: "wind" };
const NEEDED = { descent: ["height_lost", "time"], circles: ["circles", "time"], glide: ["distance", "start"] };
const COMMANDS = { height_lost: "height_lost", circles: "circles", distance: "distance", start: "from", headwind: "wind", time: "in", left: "left", right: "right" };
const label = (id) => document.querySelector(`label[for="${id}"]`).textContent;
const here = (id) => $(id).closest("[data-kinds]").dataset.kinds.split(" ").includes($("kind").value);

function problem(id) {
  const value = typed(id), kind = UNIT[id], pull = id === "left" || id === "right";
  if ($(id).value === "" && $(id).validity.valid) return NEEDED[$("kind").value].includes(id) ? `${label(id)}: missing` : "";
  const [low, high] = pull ? [0, 100] : card.note_limits[LIMIT[id] || id], size = kind ? card.units[kind].size : 1;
  if (value * size >= low - SMALLEST && value * size <= high + SMALLEST) return "";
  return `${label(id)}: ${(low / size).toPrecision(3)} to ${(high / size).toPrecision(5)} are taken`;
}
function measured() {
  const found = [], unit = (id) => (UNIT[id] ? ` ${card.units[UNIT[id]].label}` : id === "time" ? " s" : id === "left" || id === "right" ? " %" : "");
  for (const id of MEASURED) if (here(id) && $(id).value !== "") found.push([COMMANDS[id], `${typed(id)}${unit(id)}`]);
  if ($("kind").value === "glide" && $("upwind").value === "false") found.push(["upwind", "false"]);
  return found;
}
function massFits(text) {
  const [low, high] = card.note_limits.mass, mass = Number(text) * card.units.mass.size;
  return mass >= low && mass <= high;
}
function wrong() {
  const found = MEASURED.filter(here).map(problem).filter(Boolean);
  if ($("kind").value === "circles") {
    if ((typed("left") || 0) === (typed("right") || 0)) found.push("circles: give left or right brake as it was pulled");
    if (Math.abs(typed("circles")) < 0.25) found.push("circles: count at least a quarter of one");
  }
  return found;
}
function flightNow() {
  const at = store.flights.length - 1;
  if (at < 0) store.flights.push({ by_hand: [] });
  const flight = store.flights[Math.max(at, 0)];
  for (const id of FIELDS) flight[id] = $(id).value.trim();
  return flight;
}
function circumstances(flight) {
  const set = `card set to wind ${$("wind").value} ${card.units.wind_speed.label} from ${$("from").value} deg, ${$("height").value} ${card.units.length.label}`;
  return [flight.place, flight.video && `video ${flight.video}`, set].filter(Boolean).join("; ");
}
function yaml() {
  const flights = store.flights.filter((flight) => flight.by_hand.length);
  const lines = [
    `# Notes from the field card of ${plain(card.name)} (${plain(card.design_file)}, digest ${card.digest}), made ${card.made}.`,
    `# ${plain(card.calibration)}`,
  ];
  if (!flights.length) return [...lines, "# Nothing was measured yet."].join("\n") + "\n";
  lines.push("flights:");
  flights.forEach((flight, number) => {
    const name = [`flight ${number + 1}`, flight.at, flight.place, flight.video && `video ${flight.video}`].filter(Boolean).join(", ");
    lines.push(`  - name: ${quoted(name, 100)}`);
    if (massFits(flight.mass)) lines.push(`    mass: ${Number(flight.mass)} ${card.units.mass.label}`);
    lines.push("    by_hand:");
    for (const entry of flight.by_hand) {
      lines.push(`      - {${entry.parts.map(([key, value]) => `${key}: ${value}`).join(", ")}, how: ${quoted(entry.how, 200)}}`);
    }
  });
  return lines.join("\n") + "\n";
}
function showNotes() {
  const items = store.flights.flatMap((flight, number) => flight.by_hand.map((entry, at) => {
    const item = document.createElement("li"), button = document.createElement("button");
    const words = `flight ${number + 1}: ${entry.parts.map(([key, value]) => `${key.replace("_", " ")} ${value}`).join(", ")}`;
    button.type = "button";
    button.textContent = "Remove";
    button.setAttribute("aria-label", `Remove ${words}`);
    button.addEventListener("click", () => { flight.by_hand.splice(at, 1); showNotes(); remember(); $("add").focus(); });
    item.append(Object.assign(document.createElement("span"), { textContent: words }), button);
    return item;
  }));
  $("noted").replaceChildren(...items);
  $("yaml").value = yaml();
}
function add() {
  const problems = wrong(), flight = flightNow();
  if (!$("mass").validity.valid || ($("mass").value !== "" && !massFits($("mass").value))) {
    problems.push(`${label("mass")}: ${card.note_limits.mass.map((end) => show(end, "mass")).join(" to ")} is taken`);
  }
  if (problems.length) {
    $("said").textContent = `Not added. ${problems.join("; ")}.`;
    return;
  }
  flight.by_hand.push({ parts: measured(), how: circumstances(flight) });
  for (const id of MEASURED) $(id).value = "";
  $("said").textContent = "Added.";
  showNotes();
  remember();
}
function showKind() {
  for (const each of document.querySelectorAll("[data-kinds]")) each.hidden = !each.dataset.kinds.split(" ").includes($("kind").value);
}
function download() {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([yaml()], { type: "text/yaml" }));
  link.download = `${card.name.replace(/[^\w.-]+/g, "_")}_notes.yaml`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}
function whenMeasured(act) {
  return () => {
    if (store.flights.some((flight) => flight.by_hand.length)) act();
    else $("said").textContent = "Nothing was measured yet: add it first.";
  };
}
async function copy() {
  $("yaml").select();
  try {
    await navigator.clipboard.writeText($("yaml").value);
    $("said").textContent = "Copied.";
  } catch {
    $("said").textContent = document.execCommand("copy") ? "Copied." : "Marked: copy it by hand.";
  }
}
function locate() {
  const failed = () => { $("said").textContent = "This device gives no place: type it."; };
  if (!navigator.geolocation) return failed();
  $("said").textContent = "Waiting for a place.";
  navigator.geolocation.getCurrentPosition(({ coords }) => {
    $("place").value = `${coords.latitude.toFixed(5)}, ${coords.longitude.toFixed(5)} within ${coords.accuracy.toFixed(0)} m`;
    $("said").textContent = "Place taken.";
    keepFields();
  }, failed, { enableHighAccuracy: true, timeout: 20000 });
}
function keepFields() {
  flightNow();
  showNotes();
  remember();
}
const two = (number) => String(number).padStart(2, "0");
function now() {
  const at = new Date();
  $("at").value = `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())} ${two(at.getHours())}:${two(at.getMinutes())}`;
  keepFields();
}
function next() {
  if (!flightNow().by_hand.length) {
    $("said").textContent = "Nothing was measured on this flight yet.";
    return;
  }
  for (const id of ["at", "video"]) $(id).value = "";
  store.flights.push({ by_hand: [] });
  $("said").textContent = `Flight ${store.flights.length}.`;
  keepFields();
}

function begin() {
  recall();
  const { wind_m_s: wind, from_deg: from, height_m: height } = card.set;
  const first = { wind: wind / card.units.wind_speed.size, from, height: height / card.units.length.size };
  for (const id of ["wind", "from", "height"]) {
    $(id).value = store.set[id] || String(Number(first[id].toFixed(id === "height" ? 0 : 1)));
    $(id).addEventListener("input", answer);
  }
  for (const button of document.querySelectorAll("[data-step]")) {
    button.addEventListener("click", () => {
      const id = button.dataset.of, step = id === "from" ? 10 : card.steps[id], sign = Number(button.dataset.step);
      const old = typed(id) || 0, moved = step * (sign > 0 ? Math.floor(old / step + 1e-9) + 1 : Math.ceil(old / step - 1e-9) - 1);
      $(id).value = String(id === "from" ? ((moved % 360) + 360) % 360 : Math.max(moved, 0));
      answer();
    });
  }
  $("unknowns").querySelector("summary").textContent = `Not known: ${card.unknown.length}`;
  window.addEventListener("beforeprint", () => { $("unknowns").open = true; });
  const edge = (axis, kind) => `${show(axis[0], kind)} to ${show(axis[axis.length - 1], kind)}`;
  $("covers").textContent = `The table holds winds of ${edge(winds, "wind_speed")} and heights of ${edge(heights, "length")}; straight lines between its rows.`;
  const last = store.flights[store.flights.length - 1];
  for (const id of FIELDS) {
    $(id).value = (last && last[id]) || "";
    $(id).addEventListener("input", keepFields);
  }
  $("kind").addEventListener("change", showKind);
  const acts = { add, next, now, locate, download: whenMeasured(download), copy: whenMeasured(copy) };
  for (const [id, act] of Object.entries(acts)) $(id).addEventListener("click", act);
  held($("forget"), () => {
    store.flights = [];
    for (const id of FIELDS) $(id).value = "";
    showNotes();
    remember();
  });
  showKind();
  showTicks();
  showNotes();
  answer();
}
begin();
