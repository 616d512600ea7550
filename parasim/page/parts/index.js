// Parts of a vehicle as three.js objects, of `Scene.document` in Python, for every picture that shows one.
// Body axes (x forward, y right, z down) become x forward, y left, z up; so do north, east and down.
import { THREE } from "nicegui-scene";

const LINE_COLORS = { row: 0x333333, trunk: 0x111111, branch: 0x333333, fin: 0x333333, brake: 0xb5451b };
const BOX_EDGES = [0, 1, 1, 3, 3, 2, 2, 0, 4, 5, 5, 7, 7, 6, 6, 4, 0, 4, 1, 5, 2, 6, 3, 7];
const BOX_SIDES = [0, 1, 3, 0, 3, 2, 4, 6, 7, 4, 7, 5, 0, 4, 5, 0, 5, 1, 2, 3, 7, 2, 7, 6, 0, 2, 6, 0, 6, 4, 1, 5, 7, 1, 7, 3];

export const place = (p) => new THREE.Vector3(p[0], -p[1], -p[2]);

export function flat(points) {
  const found = [];
  for (const p of points) found.push(p[0], -p[1], -p[2]);
  return new THREE.Float32BufferAttribute(found, 3);
}

export function grid(rows, color) {
  const geometry = new THREE.BufferGeometry();
  geometry.setAttribute("position", flat(rows.flat()));
  const n = rows[0].length, index = [];
  for (let i = 0; i + 1 < rows.length; i++)
    for (let j = 0; j + 1 < n; j++) {
      const a = i * n + j;
      index.push(a, a + 1, a + n, a + 1, a + n + 1, a + n);
    }
  geometry.setIndex(index);
  geometry.computeVertexNormals();
  return new THREE.Mesh(geometry, new THREE.MeshLambertMaterial({ color, side: THREE.DoubleSide }));
}

export function segments(pairs, color, dash) {
  const geometry = new THREE.BufferGeometry();
  geometry.setAttribute("position", flat(pairs));
  const material = dash
    ? new THREE.LineDashedMaterial({ color, dashSize: dash, gapSize: dash })
    : new THREE.LineBasicMaterial({ color });
  const found = new THREE.LineSegments(geometry, material);
  if (dash) found.computeLineDistances();
  return found;
}

const along = (points) => points.slice(1).flatMap((p, i) => [points[i], p]);

// Cloth and lines.
export function canopyParts(scene) {
  const found = [grid(scene.upper, 0x9fbcdb), grid(scene.lower, 0xd4d4cf)];
  scene.ribs.forEach(([top, bottom], i) => {
    const tip = i === 0 || i === scene.ribs.length - 1;
    if (tip) found.push(grid([top, bottom], 0xbfbfb5));
    const color = scene.loaded[i] ? 0x333333 : 0x7d8894;
    found.push(segments([...along(top), ...along(bottom)], color));
  });
  for (const [top, bottom] of scene.stabilisers) found.push(grid([top, bottom], 0xbfbfb5));
  for (const [kind, ends] of Object.entries(scene.lines))
    found.push(segments(ends.flat(), LINE_COLORS[kind], kind === "brake" ? 0.015 : 0));
  return found;
}

// A box by its eight corners.
export function boxParts(corners) {
  const box = new THREE.BufferGeometry();
  box.setAttribute("position", flat(BOX_SIDES.map((i) => corners[i])));
  box.computeVertexNormals();
  const sides = new THREE.Mesh(box, new THREE.MeshLambertMaterial({ color: 0xa8957f, side: THREE.DoubleSide }));
  return [sides, segments(BOX_EDGES.map((i) => corners[i]), 0x222222)];
}

// Light from the sky and from one side.
export function lights() {
  const sun = new THREE.DirectionalLight(0xffffff, 1.6);
  sun.position.set(2, 1.5, 4);
  return [new THREE.HemisphereLight(0xffffff, 0x999999, 2.2), sun];
}
