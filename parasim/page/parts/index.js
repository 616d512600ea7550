// A vehicle as three.js objects, of `Scene.document` in Python, for every picture that shows one.
// Body axes (x forward, y right, z down) become x forward, y left, z up; so do north, east and down.
import { THREE } from "nicegui-scene";

const LINE_COLORS = { row: 0x333333, trunk: 0x111111, branch: 0x333333, fin: 0x333333, brake: 0xb5451b };
const BOX_EDGES = [0, 1, 1, 3, 3, 2, 2, 0, 4, 5, 5, 7, 7, 6, 6, 4, 0, 4, 1, 5, 2, 6, 3, 7];
const BOX_SIDES = [0, 1, 3, 0, 3, 2, 4, 6, 7, 4, 7, 5, 0, 4, 5, 0, 5, 1, 2, 3, 7, 2, 7, 6, 0, 2, 6, 0, 6, 4, 1, 5, 7, 1, 7, 3];

export const place = (p) => new THREE.Vector3(p[0], -p[1], -p[2]);

function flat(points) {
  const found = [];
  for (const p of points) found.push(p[0], -p[1], -p[2]);
  return new THREE.Float32BufferAttribute(found, 3);
}

function gridIndex(rows, n) {
  const index = [];
  for (let i = 0; i + 1 < rows; i++)
    for (let j = 0; j + 1 < n; j++) {
      const a = i * n + j;
      index.push(a, a + 1, a + n, a + 1, a + n + 1, a + n);
    }
  return index;
}

const cloth = (color) => new THREE.MeshLambertMaterial({ color, side: THREE.DoubleSide });
const along = (points) => points.slice(1).flatMap((p, i) => [points[i], p]);

// Light from the sky and from one side.
export function lights() {
  const sun = new THREE.DirectionalLight(0xffffff, 1.6);
  sun.position.set(2, 1.5, 4);
  return [new THREE.HemisphereLight(0xffffff, 0x999999, 2.2), sun];
}

export class Parts extends THREE.Group {
  // Cloth and lines of a scene.
  canopy(scene) {
    const lines = { loaded: [], other: [] };
    scene.ribs.forEach(([top, bottom], i) =>
      lines[scene.loaded[i] ? "loaded" : "other"].push(...along(top), ...along(bottom)));
    this.grid("upper", [scene.upper], 0x9fbcdb);
    this.grid("lower", [scene.lower], 0xd4d4cf);
    this.grid("tips", [scene.ribs[0], scene.ribs[scene.ribs.length - 1]], 0xbfbfb5);
    this.grid("stabilisers", scene.stabilisers, 0xbfbfb5);
    this.segments("loaded", lines.loaded, 0x333333);
    this.segments("other", lines.other, 0x7d8894);
    for (const [kind, color] of Object.entries(LINE_COLORS))
      this.segments(kind, (scene.lines[kind] ?? []).flat(), color, kind === "brake" ? 0.015 : 0);
  }
  // The payload by its eight corners.
  box(corners) {
    this.part("payload", BOX_SIDES.map((i) => corners[i]), (geometry) => new THREE.Mesh(geometry, cloth(0xa8957f)));
    this.segments("edges", BOX_EDGES.map((i) => corners[i]), 0x222222);
  }
  // A part keeps its place in the graphics memory while its number of points stays.
  part(name, points, make) {
    const position = flat(points), there = this.getObjectByName(name);
    if (there && there.geometry.attributes.position.count === position.count) {
      there.geometry.attributes.position.array.set(position.array);
      there.geometry.attributes.position.needsUpdate = true;
      there.geometry.boundingSphere = there.geometry.boundingBox = null;
      this.finish(there);
      return;
    }
    if (there) this.drop(there);
    if (!points.length) return;
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", position);
    const made = make(geometry);
    made.name = name;
    this.finish(made);
    this.add(made);
  }
  drop(part) {
    this.remove(part);
    part.geometry.dispose();
    part.material.dispose();
  }
  finish(part) {
    if (part.isMesh) part.geometry.computeVertexNormals();
    else if (part.material.isLineDashedMaterial) part.computeLineDistances();
  }
  grid(name, grids, color) {
    this.part(name, grids.flat(2), (geometry) => {
      const each = grids[0].length * grids[0][0].length, index = gridIndex(grids[0].length, grids[0][0].length);
      geometry.setIndex(grids.flatMap((_, i) => index.map((j) => j + i * each)));
      return new THREE.Mesh(geometry, cloth(color));
    });
  }
  segments(name, pairs, color, dash) {
    this.part(name, pairs, (geometry) => new THREE.LineSegments(geometry, dash
      ? new THREE.LineDashedMaterial({ color, dashSize: dash, gapSize: dash })
      : new THREE.LineBasicMaterial({ color })));
  }
}
