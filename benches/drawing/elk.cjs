// Lays out graphs with elkjs and tells how long that took: the comparison in the README beside this file.
// node elk.cjs GRAPH.json...   with the package elkjs where node finds it

const { readFileSync } = require("node:fs");
const path = require("node:path");
const ELK = require("elkjs/lib/elk.bundled.js");

// Points where an upright and a level segment of different edges cross, interior to both.
function crossings(edges) {
  const level = [], upright = [];
  edges.forEach((edge, index) => {
    for (const section of edge.sections || []) {
      const points = [section.startPoint, ...(section.bendPoints || []), section.endPoint];
      for (let at = 1; at < points.length; at++) {
        const [a, b] = [points[at - 1], points[at]];
        if (Math.abs(a.y - b.y) < 0.01) level.push([a.y, Math.min(a.x, b.x), Math.max(a.x, b.x), index]);
        else upright.push([a.x, Math.min(a.y, b.y), Math.max(a.y, b.y), index]);
      }
    }
  });
  level.sort((a, b) => a[0] - b[0]);
  let count = 0;
  for (const [x, top, bottom, index] of upright) {
    let low = 0, high = level.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (level[middle][0] <= top + 0.5) low = middle + 1; else high = middle;
    }
    for (let at = low; at < level.length && level[at][0] < bottom - 0.5; at++) {
      const [, left, right, other] = level[at];
      if (other !== index && left + 0.5 < x && x < right - 0.5) count++;
    }
  }
  return count;
}

(async () => {
  console.log("| graph | conductors | crossings a wire | bends a wire | ms |");
  console.log("|---|---|---|---|---|");
  for (const file of process.argv.slice(2)) {
    const text = readFileSync(file, "utf8");
    const count = JSON.parse(text).edges.length;
    let best = Infinity, result;
    // The fastest of a few, once the code is warm.
    for (let turn = 0; turn < (count > 2000 ? 1 : 5); turn++) {
      const graph = JSON.parse(text);
      const elk = new ELK();
      const start = process.hrtime.bigint();
      result = await elk.layout(graph);
      best = Math.min(best, Number(process.hrtime.bigint() - start) / 1e6);
    }
    const bends = result.edges.flatMap((edge) => edge.sections || [])
      .reduce((sum, section) => sum + (section.bendPoints || []).length, 0);
    const name = path.basename(file, ".json");
    console.log(`| ${name} | ${count} | ${(crossings(result.edges) / count).toFixed(2)} | ` +
      `${(bends / count).toFixed(2)} | ${best.toFixed(0)} |`);
  }
})();
