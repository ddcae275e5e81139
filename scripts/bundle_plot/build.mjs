// Bundles entry.js into src/soakbook/app/static/plot.js: one minified ES module without what the pages never use, and
// without the style element that Plot puts into its pictures (a strict content security policy refuses it; the same
// rules stand in charts.css). Every change to Plot's text must be found in it, or the build stops.
import {readFile, writeFile} from "node:fs/promises";
import {dirname, join, sep} from "node:path";
import {fileURLToPath} from "node:url";
import {gzipSync} from "node:zlib";
import {build} from "esbuild";

const here = dirname(fileURLToPath(import.meta.url));
const out = join(here, "../../src/soakbook/app/static/plot.js");
const most = 75_000; // bytes, gzipped

/** Modules of Plot that the pages do without: maps, legends, colour schemes, tips, diverging scales, line ends. */
const unused = (name) => `() => { throw new Error("${name} is left out of this bundle"); }`;
const replaced = {
  "index.js": `
    export {plot} from "./plot.js";
    export {areaY} from "./marks/area.js";
    export {axisX, axisY, gridX, gridY} from "./marks/axis.js";
    export {dot} from "./marks/dot.js";
    export {lineY} from "./marks/line.js";
    export {rect} from "./marks/rect.js";
    export {ruleX, ruleY} from "./marks/rule.js";
    export {text} from "./marks/text.js";`,
  "projection.js": `
    export const createProjection = () => undefined;
    export const project = ${unused("projections")};
    export const hasProjection = () => false;
    export const projectionAspectRatio = () => undefined;
    export function applyPosition(channels, scales) {
      const at = (name) => channels[name] && scales[name] ? Array.from(channels[name].value, scales[name]) : channels[name]?.value;
      return {x: at("x"), y: at("y")};
    }
    export const getGeometryChannels = ${unused("projections")};
    export const xyProjection = ${unused("projections")};`,
  "legends.js": `
    export const legend = ${unused("legends")};
    export const exposeLegends = () => undefined;
    export const createLegends = () => [];`,
  "scales/schemes.js": `
    export const isCategoricalScheme = () => false;
    export const isDivergingScheme = () => false;
    export const ordinalScheme = ${unused("colour schemes")};
    export const ordinalRange = ${unused("colour schemes")};
    export const maybeBooleanRange = () => undefined;
    export const quantitativeScheme = ${unused("colour schemes")};`,
  "scales/diverging.js": ["", "Sqrt", "Pow", "Log", "Symlog"]
    .map((kind) => `export const createScaleDiverging${kind} = ${unused("diverging scales")};`)
    .join("\n"),
  "marks/tip.js": `export const tip = ${unused("tips")};`,
  "interactions/pointer.js": ["pointer", "pointerX", "pointerY"]
    .map((name) => `export const ${name} = ${unused("pointers")};`)
    .join("\n"),
  "marker.js": `
    export const markers = () => undefined;
    export const applyMarkers = () => undefined;
    export const applyGroupedMarkers = () => undefined;`,
  "curve.js": `
    import {curveLinear, curveStepAfter} from "d3";
    export const curveAuto = curveLinear;
    export const maybeCurve = (curve) => curve === "step-after" ? curveStepAfter : curveLinear;
    export const maybeCurveAuto = maybeCurve;`,
};

/** Text of plot.js to change: [pattern, what stands instead]. */
const patched = {
  "plot.js": [
    [/\.call\(\(svg\) =>[^`]*svg\.append\("style"\)\.text\(\s*`[^`]*`\s*\)\s*\)/, ""],
    [/import \{creator, geoPath, select\} from "d3";/, 'import {creator, select} from "d3";'],
    [/return geoPath\([^;]*\);/, 'throw new Error("maps are left out of this bundle");'],
  ],
};

const inPlot = join("@observablehq", "plot", "src") + sep;
const seen = new Set();
const trim = {
  name: "trim-plot",
  setup({onLoad}) {
    onLoad({filter: /\.js$/}, async ({path}) => {
      const [, name] = path.split(inPlot);
      if (name === undefined) return;
      const key = name.replaceAll(sep, "/");
      if (key in replaced) return seen.add(key), {contents: replaced[key], loader: "js", resolveDir: dirname(path)};
      if (!(key in patched)) return;
      let text = await readFile(path, "utf8");
      for (const [pattern, instead] of patched[key]) {
        if (!pattern.test(text)) throw new Error(`${key} no longer holds ${pattern}`);
        text = text.replace(pattern, instead);
      }
      seen.add(key);
      return {contents: text, loader: "js", resolveDir: dirname(path)};
    });
  },
};

const {outputFiles, metafile} = await build({
  absWorkingDir: here,
  entryPoints: ["entry.js"],
  bundle: true,
  minify: true,
  format: "esm",
  target: "es2022",
  legalComments: "none",
  banner: {js: "// Parts of Observable Plot and D3, bundled by scripts/bundle_plot. Licences: LICENSES.txt beside this file."},
  plugins: [trim],
  metafile: true,
  write: false,
});
for (const key of [...Object.keys(replaced), ...Object.keys(patched)]) {
  if (!seen.has(key)) throw new Error(`${key} was expected in the bundle and is not there`);
}
const text = outputFiles[0].text;
for (const word of ['append("style")', "insertRule", "new Function", "eval("]) {
  if (text.includes(word)) throw new Error(`the bundle holds ${word}, which the content security policy refuses`);
}
const size = gzipSync(text, {level: 9}).length;
if (size > most) throw new Error(`the bundle is ${size} bytes gzipped, more than ${most}`);
await writeFile(out, text);
const parts = new Set(Object.entries(Object.values(metafile.outputs)[0].inputs)
  .filter(([, v]) => v.bytesInOutput > 0)
  .map(([k]) => k.match(/node_modules\/((?:@[^/]+\/)?[^/]+)/)?.[1]).filter(Boolean));
console.log(`${size} bytes gzipped, from ${[...parts].sort().join(", ")}`);
