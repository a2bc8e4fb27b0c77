// The ground standing up, with three.js; loaded only when asked for.
import { AmbientLight, BufferAttribute, BufferGeometry, DirectionalLight, DoubleSide, LineBasicMaterial, LineSegments, Mesh as Solid, MeshLambertMaterial, PerspectiveCamera, Scene, Vector3, WebGLRenderer, Line } from "three";
import { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";
import type { Mesh } from "../api/types";
import { worksShown, type Job } from "../job";
import { polylineOf, type XY } from "./arcs";
import { finderOf } from "./content";
import { buildUp, formationOf } from "./ground";
import type { Inks } from "./ink";

export interface ReliefView { exaggerate(times: number): void; turn(by: number): void; dispose(): void }

/** East is x, north is -z, up is y; all from the middle of the site. */
function groundGeometry(mesh: Mesh, middle: readonly [number, number, number]): BufferGeometry {
  const at = new Float32Array(mesh.vertices.length * 3);
  mesh.vertices.forEach((v, i) => at.set([v[0]! - middle[0], v[2]! - middle[2], middle[1] - v[1]!], i * 3));
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(at, 3));
  geometry.setIndex(mesh.faces.flat());
  geometry.computeVertexNormals();
  return geometry;
}

/** Contours drawn on the slope itself, so that height is told by line and not by tone. */
function contourGeometry(job: Job, middle: readonly [number, number, number]): BufferGeometry {
  const collection = job.results.contours as { features?: { properties?: Record<string, unknown>; geometry: { type: string; coordinates: number[][] } }[] } | undefined;
  const at: number[] = [];
  for (const f of collection?.features ?? []) {
    const z = Number(f.properties?.["elevation_m"] ?? f.properties?.["level_m"]) - middle[2] + 0.004;
    const line = f.geometry.type === "LineString" ? f.geometry.coordinates : [];
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

export function showRelief(canvas: HTMLCanvasElement, job: Job, inks: Inks, times: number): ReliefView {
  const mesh = job.results.mesh!;
  const [e, n, z] = [0, 1, 2].map((k) => mesh.vertices.map((v) => v[k]!)) as [number[], number[], number[]];
  const span = (list: number[]) => list.reduce(([lo, hi], v) => [Math.min(lo, v), Math.max(hi, v)] as [number, number], [Infinity, -Infinity] as [number, number]);
  const [[e0, e1], [n0, n1], [z0, z1]] = [span(e), span(n), span(z)];
  const middle = [(e0 + e1) / 2, (n0 + n1) / 2, (z0 + z1) / 2] as const;
  const size = Math.max(e1 - e0, n1 - n0, 1);
  const renderer = new WebGLRenderer({ canvas, antialias: true, preserveDrawingBuffer: true });
  const scene = new Scene();
  const camera = new PerspectiveCamera(38, 1, size / 200, size * 20);
  const controls = new OrbitControls(camera, canvas);
  const raised = new Scene();
  raised.scale.y = times;
  scene.add(raised, new AmbientLight(0xffffff, 1.7));
  const sun = new DirectionalLight(0xffffff, 2.2);
  sun.position.set(-1, 1.1, -0.8);
  scene.add(sun);
  renderer.setClearColor(inks.ground);
  raised.add(new Solid(groundGeometry(mesh, middle), new MeshLambertMaterial({ color: inks.earth, side: DoubleSide, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 })));
  raised.add(new LineSegments(contourGeometry(job, middle), new LineBasicMaterial({ color: inks.ink })));
  for (const { outline } of workLines(job, middle)) raised.add(new Line(new BufferGeometry().setFromPoints([...outline, outline[0]!]), new LineBasicMaterial({ color: inks.accent })));
  camera.position.set(size * 0.55, size * 0.75, size * 0.95);
  controls.enableDamping = false;
  const draw = () => renderer.render(scene, camera);
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
  controls.update();
  resize();
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
    dispose() {
      watcher.disconnect();
      controls.dispose();
      renderer.dispose();
    },
  };
}
