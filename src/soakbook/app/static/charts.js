// Draws the charts of a page from the data the server put beside them, and lets them be read by touch and by keyboard.
// Every word and number comes from that data; colours, dashes and patterns stand in charts.css.

/**
 * @typedef {{from: number, to: number, ticks: [number, string][]}} Axis
 * @typedef {{type: string, look: string, items: any[][]}} Mark
 * @typedef {{from: number, to: number, label: string}} Point
 * @typedef {{height: number, along: "x" | "y", x: Axis, y: Axis, marks: Mark[], points: Point[], help: string, start?: number,
 *   key: {type: string, look: string, text: string}[]}} Block
 * @typedef {{figure: HTMLElement, host: HTMLElement, block: Block, id: string, said: HTMLElement, reader: HTMLElement,
 *   width: number, at: number, svg: any}} Chart
 */

const SVG = "http://www.w3.org/2000/svg";
/** Width drawn for paper; the picture is then scaled to the column. [px] */
const PAPER = 680;
/** Looks filled with a pattern: the path of one tile. Lines and dots survive a printer without colours. */
const PATTERNS = {
  demand: "M-1 7L7 -1M-1 1L1 -1M5 7L7 5",
  taken: "M-1 7L7 -1M-1 1L1 -1M5 7L7 5",
  water: "M0 3H6",
  drained: "M1.5 1.5h.01M4.5 4.5h.01",
  "too-dry": "M-1 -1L7 7M5 -1L7 1M-1 5L1 7",
};
const SYMBOLS = {watering: "triangle2", reading: "circle", filled: "diamond", none: "circle", sign: "square"};
const RADII = {watering: 5, reading: 4.5, filled: 3, none: 1.5, sign: 4};

/** @type {Map<HTMLElement, Chart>} */
const charts = new Map();
/** @type {any} */
let Plot = null;
let count = 0;
let onPaper = false;
const sizes = new ResizeObserver((entries) => {
  for (const entry of entries) {
    const chart = charts.get(/** @type {HTMLElement} */ (entry.target));
    if (chart && !onPaper && Math.abs(entry.contentRect.width - chart.width) > 1) draw(chart, entry.contentRect.width);
  }
});

/**
 * Draws every chart under an element that is not drawn yet. To be called again when a part of the page was swapped in.
 * @param {ParentNode} root
 */
export async function drawAll(root = document) {
  for (const host of charts.keys()) if (!host.isConnected) forget(host);
  const figures = [...root.querySelectorAll("figure.chart[data-chart]")].filter((f) => !f.querySelector(".chart-reader"));
  if (figures.length === 0) return;
  Plot ??= await import("./plot.js");
  for (const figure of figures) set(/** @type {HTMLElement} */ (figure));
}

/** @param {HTMLElement} host */
function forget(host) {
  sizes.unobserve(host);
  charts.delete(host);
}

/**
 * Puts what a chart needs around its place once: key, the line that says a value, and what takes keys and touch.
 * @param {HTMLElement} figure
 */
function set(figure) {
  const host = /** @type {HTMLElement | null} */ (figure.querySelector(".chart-plot"));
  const data = figure.querySelector("script.chart-data");
  if (!host || !data?.textContent || figure.querySelector(".chart-reader")) return;
  /** @type {Block} */
  const block = JSON.parse(data.textContent);
  const id = `chart-${++count}`;
  const first = !document.querySelector(".chart-said");
  const said = Object.assign(document.createElement("p"), {className: "chart-said", textContent: first ? block.help : ""});
  said.setAttribute("aria-live", "polite");
  const reader = Object.assign(document.createElement("div"), {className: "chart-reader", tabIndex: 0});
  for (const [name, value] of Object.entries({
    role: "slider",
    "aria-label": block.help,
    "aria-orientation": block.along === "x" ? "horizontal" : "vertical",
    "aria-valuemin": "1",
    "aria-valuemax": String(block.points.length),
  })) reader.setAttribute(name, value);
  const frame = Object.assign(document.createElement("div"), {className: "chart-frame"});
  host.before(said, frame);
  frame.append(host, reader);
  frame.after(key(block, id));
  const chart = {figure, host, block, id, said, reader, width: 0, at: -1, svg: null};
  charts.set(host, chart);
  listen(chart);
  draw(chart, host.clientWidth);
  sizes.observe(host);
}

/**
 * @param {Block} block
 * @param {string} id
 */
function key(block, id) {
  const list = Object.assign(document.createElement("ul"), {className: "chart-key"});
  for (const {type, look, text} of block.key) {
    const item = document.createElement("li");
    const picture = element("svg", {class: "chart-swatch", viewBox: "0 0 28 14", "aria-hidden": "true"});
    picture.append(swatch(type, look, id));
    item.append(picture, text);
    list.append(item);
  }
  return list;
}

/**
 * @param {string} type
 * @param {string} look
 * @param {string} id
 */
function swatch(type, look, id) {
  const kind = `look-${look} mark-${type}`;
  if (type === "line") return element("path", {class: kind, d: "M1 7H27"});
  if (type === "text") return Object.assign(element("text", {class: kind, x: "14", y: "11", "text-anchor": "middle"}), {textContent: "3 d"});
  if (type === "dot") return element("path", {class: kind, d: {watering: "M8 2H20L14 12Z", filled: "M14 2L19 7L14 12L9 7Z", sign: "M10 3H18V11H10Z"}[look] ?? "M14 2a5 5 0 1 0 .01 0Z"});
  return element("rect", {class: kind, x: "2", y: "1", width: "24", height: "12", fill: fill(look, id) ?? ""});
}

/**
 * @param {string} name
 * @param {Record<string, string>} attributes
 */
function element(name, attributes) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) if (value !== "") made.setAttribute(key, value);
  return made;
}

/**
 * @param {string} look
 * @param {string} id
 */
function fill(look, id) {
  return look in PATTERNS ? `url(#${id}-${look})` : undefined;
}

/** @param {string} id */
function patterns(id) {
  const defs = element("defs", {});
  for (const [look, d] of Object.entries(PATTERNS)) {
    const tile = element("pattern", {id: `${id}-${look}`, class: `tile-${look}`, width: "6", height: "6", patternUnits: "userSpaceOnUse"});
    tile.append(element("path", {d}));
    defs.append(tile);
  }
  return defs;
}

/**
 * Leaves out texts that would run into the one before, judged by their length.
 * @param {any[][]} items
 * @param {(item: any[]) => number} place
 * @param {(item: any[]) => string} text
 */
function apart(items, place, text) {
  let last = -Infinity;
  return items.filter((item) => {
    const half = 3.6 * text(item).length + 3;
    if (place(item) - half < last) return false;
    last = place(item) + half;
    return true;
  });
}

/**
 * @param {Mark} mark
 * @param {Chart} chart
 * @param {(value: number) => number} px
 */
function drawn({type, look, items}, {id, block}, px) {
  const base = {className: `look-${look} mark-${type}`, x: "0", y: "1"};
  if (items.length === 0) return null;
  if (type === "bar") return Plot.rect(items, {...base, x: undefined, y: undefined, x1: "0", x2: "1", y1: "2", y2: "3", fill: fill(look, id)});
  if (type === "line") return Plot.lineY(items, base);
  if (type === "band") return Plot.areaY(items, {...base, y: undefined, y1: "1", y2: "2", fill: fill(look, id)});
  if (type === "dot") return Plot.dot(items, {...base, r: RADII[look], symbol: SYMBOLS[look]});
  if (type === "rule") return Plot.ruleX(items, {...base, y: undefined});
  if (type === "step") return Plot.ruleX(items, {...base, y: undefined, y1: "1", y2: "2"});
  const side = look === "row" ? "start" : look === "end" ? "end" : "middle";
  const shown = look === "amount" ? apart(items, (i) => px(i[0]), (i) => i[2]) : items;
  const ended = block.marks.some((other) => other.look === "end");
  const lineWidth = look === "row" ? (px(block.x.to) - px(block.x.from) - (ended ? 84 : 0)) / 13 : undefined;
  return Plot.text(shown, {...base, text: "2", textAnchor: side, lineAnchor: "bottom", dy: -4, dx: look === "row" ? 2 : 0, fontSize: 13, lineWidth});
}

/**
 * @param {Chart} chart
 * @param {number} width
 */
function draw(chart, width) {
  if (width < 40) return;
  const {block, host, id} = chart;
  const across = block.along === "x";
  const longest = Math.max(0, ...block.y.ticks.map(([, text]) => text.length));
  const marginLeft = across ? 14 + 9 * longest : 8;
  const margins = {marginLeft, marginRight: across ? 12 : 30, marginTop: 14, marginBottom: across ? 26 : 30};
  const span = width - marginLeft - margins.marginRight;
  const px = (/** @type {number} */ v) => marginLeft + (span * (v - block.x.from)) / (block.x.to - block.x.from);
  const ticks = (/** @type {[number, string][]} */ list) => ({
    ticks: list.map(([v]) => v),
    tickFormat: (/** @type {number} */ v) => list.find(([at]) => at === v)?.[1] ?? "",
    tickSize: 4,
    label: null,
    fontSize: 13,
  });
  const xTicks = apart(block.x.ticks, ([v]) => px(v), ([, text]) => text);
  const svg = Plot.plot({
    width,
    height: block.height,
    ...margins,
    x: {type: "linear", domain: [block.x.from, block.x.to], axis: null},
    y: {type: "linear", domain: [block.y.from, block.y.to], axis: null},
    marks: [
      across ? Plot.gridY(block.y.ticks.map(([v]) => v), {className: "look-grid"}) : Plot.gridX(block.x.ticks.map(([v]) => v), {className: "look-grid"}),
      ...block.marks.map((mark) => drawn(mark, chart, px)),
      Plot.axisX({...ticks(xTicks), className: "look-axis"}),
      block.y.ticks.length ? Plot.axisY({...ticks(block.y.ticks), className: "look-axis"}) : null,
    ],
  });
  svg.setAttribute("aria-hidden", "true");
  svg.prepend(patterns(id), element("rect", {class: "chart-cursor"}));
  host.replaceChildren(svg);
  Object.assign(chart, {svg, width});
  show(chart);
}

/** Puts the cursor over the point that is read. @param {Chart} chart */
function show({svg, block, at, width}) {
  const cursor = svg.querySelector(".chart-cursor");
  const point = block.points[at];
  cursor.toggleAttribute("hidden", !point);
  if (!point) return;
  const scale = svg.scale(block.along).apply;
  const [a, b] = [scale(point.from), scale(point.to)].sort((p, q) => p - q);
  const box = block.along === "x" ? {x: a, width: b - a, y: 2, height: block.height - 4} : {x: 1, width: width - 2, y: a, height: b - a};
  for (const [name, value] of Object.entries(box)) cursor.setAttribute(name, String(value));
}

/**
 * Reads one point aloud. A screen reader hears it from the reader's value when keys moved it, else from the line above.
 * @param {Chart} chart
 * @param {number} at
 * @param {boolean} byKey
 */
function read(chart, at, byKey) {
  const last = chart.block.points.length - 1;
  chart.at = Math.max(0, Math.min(last, at));
  const {label} = chart.block.points[chart.at];
  chart.said.setAttribute("aria-live", byKey ? "off" : "polite");
  chart.said.textContent = label;
  chart.reader.setAttribute("aria-valuenow", String(chart.at + 1));
  chart.reader.setAttribute("aria-valuetext", label);
  show(chart);
}

/** @param {Chart} chart */
function listen(chart) {
  const {reader, block} = chart;
  const last = block.points.length - 1;
  const start = Math.max(0, block.points.findIndex((p) => p.from <= (block.start ?? 0) && (block.start ?? 0) < p.to));
  reader.setAttribute("aria-valuenow", String(start + 1));
  reader.setAttribute("aria-valuetext", block.points[start].label);
  reader.addEventListener("keydown", (event) => {
    const at = chart.at < 0 ? start - 1 : chart.at;
    const to = {ArrowRight: at + 1, ArrowDown: at + 1, ArrowLeft: at - 1, ArrowUp: at - 1, Home: 0, End: last}[event.key];
    if (to === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    read(chart, to, true);
  });
  const near = (/** @type {PointerEvent} */ event) => {
    const box = chart.svg.getBoundingClientRect();
    const scale = chart.svg.scale(block.along).invert;
    const px = block.along === "x" ? ((event.clientX - box.left) / box.width) * chart.width : ((event.clientY - box.top) / box.height) * block.height;
    const value = scale(px);
    const at = block.points.findIndex((p) => value >= p.from && value < p.to);
    if (at >= 0 && at !== chart.at) read(chart, at, false);
  };
  reader.addEventListener("focus", () => { if (!chart.said.textContent) chart.said.textContent = block.help; });
  reader.addEventListener("pointermove", near);
  reader.addEventListener("pointerdown", near);
}

/** @param {boolean} paper */
function redraw(paper) {
  onPaper = paper;
  for (const chart of charts.values()) draw(chart, paper ? PAPER : chart.host.clientWidth);
}

addEventListener("beforeprint", () => redraw(true));
addEventListener("afterprint", () => redraw(false));
drawAll();
