// The ground standing up, with three.js; loaded only when asked for.
import { AmbientLight, BufferAttribute, BufferGeometry, Color, DirectionalLight, DoubleSide, LineBasicMaterial, LineSegments, Mesh as Solid, MeshLambertMaterial, PerspectiveCamera, Scene, Vector3, WebGLRenderer, Line } from "three";
import { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";
import type { FinishedMesh, Mesh } from "../api/types";
import { worksShown, type Job } from "../job";
import { arcPieces, polylineOf, type XY } from "./arcs";
import { finderOf } from "./content";
import { buildUp, formationOf } from "./ground";
import type { Inks } from "./ink";
import type { Zooms } from "./lead";

export interface ReliefView extends Zooms { exaggerate(times: number): void; turn(by: number): void; dispose(): void }

/** East is x, north is -z, up is y; all from the middle of the site. */
function groundGeometry(mesh: Mesh, middle: readonly [number, number, number]): BufferGeometry {
  const v = mesh.vertices;
  const at = new Float32Array(v.length);
  for (let i = 0; i < v.length; i += 3) at.set([v[i]! - middle[0], v[i + 2]! - middle[2], middle[1] - v[i + 1]!], i);
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(at, 3));
  geometry.setIndex(mesh.triangles);
  geometry.computeVertexNormals();
  return geometry;
}

/** Contours drawn on the slope itself, so that height is told by line and not by tone. */
function contourGeometry(job: Job, middle: readonly [number, number, number]): BufferGeometry {
  const at: number[] = [];
  for (const f of job.results.contours?.features ?? []) {
    const z = f.properties.elevation_m - middle[2] + 0.004;
    const line = f.geometry.coordinates;
    for (let i = 1; i < line.length; i++) at.push(line[i - 1]![0]! - middle[0], z, middle[1] - line[i - 1]![1]!, line[i]![0]! - middle[0], z, middle[1] - line[i]![1]!);
  }
  return new BufferGeometry().setAttribute("position", new BufferAttribute(new Float32Array(at), 3));
}

function workLines(job: Job, middle: readonly [number, number, number]): { outline: Vector3[] }[] {
  const find = finderOf(job);
  return worksShown(job).flatMap((work) => {
    const path = job.site?.features.find((f) => f.name === work.definition.in)?.paths[0];
    if (!path) return [];
    const line = polylineOf(path);
    const finish = formationOf(work, line, find);
    if (!finish || "depth_m" in finish) return [];
    const level = (p: XY) => finish.level_m + buildUp(work) - finish.fall_e * (p[0] - finish.at[0]) - finish.fall_n * (p[1] - finish.at[1]);
    return [{ outline: line.map((p) => new Vector3(p[0] - middle[0], level(p) - middle[2], middle[1] - p[1])) }];
  });
}

/** Edges of the features on the ground, where their points have levels. */
function featureGeometry(job: Job, middle: readonly [number, number, number]): BufferGeometry {
  const at: number[] = [];
  const put = (p: XY, z: number) => at.push(p[0] - middle[0], z - middle[2] + 0.008, middle[1] - p[1]);
  for (const path of job.site?.features.flatMap((f) => f.paths) ?? []) {
    const v = path.vertices;
    for (let i = 0; i < (path.closed ? v.length : v.length - 1); i++) {
      const [a, b] = [v[i]!, v[(i + 1) % v.length]!];
      if (a[2] === null || b[2] === null) continue;
      const line: XY[] = [[a[0], a[1]], ...arcPieces([a[0], a[1]], [b[0], b[1]], a[3])];
      for (let k = 1; k < line.length; k++) {
        put(line[k - 1]!, a[2] + ((b[2] - a[2]) * (k - 1)) / (line.length - 1));
        put(line[k]!, a[2] + ((b[2] - a[2]) * k) / (line.length - 1));
      }
    }
  }
  return new BufferGeometry().setAttribute("position", new BufferAttribute(new Float32Array(at), 3));
}

type Span = [number, number];
function spanOf(flat: readonly number[], first: number): Span {
  const span: Span = [Infinity, -Infinity];
  for (let i = first; i < flat.length; i += 3) {
    span[0] = Math.min(span[0], flat[i]!);
    span[1] = Math.max(span[1], flat[i]!);
  }
  return span;
}

/** The finished surface, each face in its own colour: the ground's, or that of the works. */
function finishedGeometry(surface: FinishedMesh, middle: readonly [number, number, number], inks: Inks): BufferGeometry {
  const { vertices: v, triangles: t, owners } = surface;
  const at = new Float32Array(3 * t.length);
  const tone = new Float32Array(3 * t.length);
  const [soil, built] = [new Color(inks.soil), new Color(inks.accent).lerp(new Color(inks.ground), 0.35)];
  for (let i = 0; i < t.length; i++) {
    const k = 3 * t[i]!;
    at.set([v[k]! - middle[0], v[k + 2]! - middle[2], middle[1] - v[k + 1]!], 3 * i);
    (owners[Math.floor(i / 3)]! < 0 ? soil : built).toArray(tone, 3 * i);
  }
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(at, 3));
  geometry.setAttribute("color", new BufferAttribute(tone, 3));
  geometry.computeVertexNormals();
  return geometry;
}

/** @param finished the ground as it will be, or null to show it as it is */
export function showRelief(canvas: HTMLCanvasElement, job: Job, inks: Inks, times: number, finished: FinishedMesh | null): ReliefView {
  const mesh = job.mesh!;
  const [[e0, e1], [n0, n1], [z0, z1]] = [0, 1, 2].map((k) => spanOf(mesh.vertices, k)) as [Span, Span, Span];
  const middle = [(e0 + e1) / 2, (n0 + n1) / 2, (z0 + z1) / 2] as const;
  const size = Math.max(e1 - e0, n1 - n0, 1);
  const renderer = new WebGLRenderer({ canvas, antialias: true, preserveDrawingBuffer: true });
  const scene = new Scene();
  const camera = new PerspectiveCamera(38, 1, size / 200, size * 20);
  const controls = new OrbitControls(camera, canvas);
  const raised = new Scene();
  raised.scale.y = times;
  scene.add(raised, new AmbientLight(0xffffff, 1.5));
  const sun = new DirectionalLight(0xffffff, 2.2);
  sun.position.set(-1, 1.1, -0.8);
  scene.add(sun);
  renderer.setClearColor(inks.ground);
  const matter = { side: DoubleSide, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 };
  raised.add(finished ? new Solid(finishedGeometry(finished, middle, inks), new MeshLambertMaterial({ ...matter, vertexColors: true })) : new Solid(groundGeometry(mesh, middle), new MeshLambertMaterial({ ...matter, color: inks.soil })));
  raised.add(new LineSegments(contourGeometry(job, middle), new LineBasicMaterial({ color: inks.earth })));
  raised.add(new LineSegments(featureGeometry(job, middle), new LineBasicMaterial({ color: inks.ink })));
  if (finished) for (const { outline } of workLines(job, middle)) raised.add(new Line(new BufferGeometry().setFromPoints([...outline, outline[0]!]), new LineBasicMaterial({ color: inks.accent })));
    controls.enableDamping = false;
  const draw = () => renderer.render(scene, camera);
  const look = () => {
    const far = size * Math.max(1, 1.4 / camera.aspect);
    camera.position.set(far * 0.38, far * 0.72, far * 1.12);
    controls.target.set(0, 0, far * 0.09);
    controls.update();
    draw();
  };
  const resize = () => {
    const { width, height } = canvas.parentElement!.getBoundingClientRect();
    renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    renderer.setSize(width, height, false);
    camera.aspect = width / Math.max(height, 1);
    camera.updateProjectionMatrix();
    draw();
  };
  const watcher = new ResizeObserver(resize);
  watcher.observe(canvas.parentElement!);
  controls.addEventListener("change", draw);
  resize();
  look();
  return {
    exaggerate(more) {
      raised.scale.y = more;
      draw();
    },
    turn(by) {
      camera.position.applyAxisAngle(new Vector3(0, 1, 0), by);
      controls.update();
      draw();
    },
    zoomBy(factor) {
      camera.position.divideScalar(factor);
      controls.update();
      draw();
    },
    fit: look,
    dispose() {
      watcher.disconnect();
      controls.dispose();
      renderer.dispose();
    },
  };
}
