// The board in three dimensions: wood as it is carved, resin as it shows at the end.

import {
  AmbientLight,
  BufferAttribute,
  BufferGeometry,
  CanvasTexture,
  Color,
  DirectionalLight,
  Group,
  HemisphereLight,
  Mesh,
  MeshBasicMaterial,
  MeshStandardMaterial,
  PerspectiveCamera,
  PlaneGeometry,
  Scene,
  SRGBColorSpace,
  Vector3,
  WebGLRenderer,
} from "three";

import type { Stand } from "./camera";
import { drawnHeight, heightsOf, shade, type Heights } from "./depths";
import type { BoardMesh } from "./glb";

const FIELD_OF_VIEW_DEG = 30;
const MOST_PIXEL_RATIO = 2;
/** Resin stands that far above the face, so that both are never drawn at one height. */
const ABOVE_FACE_MM = 0.03;
/** How much further than the fit the eye stands, so that a rim is left. */
const MARGIN = 1.06;
const UNDER_MM = 0.2;
const SHADOW_REACH = 1.35;
const SHADOW_PX = 512;

export interface Board3D {
  width_mm: number;
  height_mm: number;
  wood: string;
  mesh: BoardMesh;
  face: HTMLCanvasElement;
}

export interface View3D {
  /** Draw the board carved (false) or with its resin in (true), with depths so many times. */
  show(finished: boolean, times: number): void;
  stand(where: Stand): void;
  /** Fit the drawing to its place on the page. */
  fit(): void;
  /** Take the ground's colour from the page, so that both themes are met. */
  ground(colour: string): void;
  close(): void;
}

/** Draw a board on a canvas. Throws when the browser has no WebGL. */
export function openView(canvas: HTMLCanvasElement, board: Board3D): View3D {
  const renderer = new WebGLRenderer({ canvas, antialias: true });
  renderer.setPixelRatio(Math.min(window.devicePixelRatio, MOST_PIXEL_RATIO));
  const scene = new Scene();
  const camera = new PerspectiveCamera(FIELD_OF_VIEW_DEG, 1, 1, 10000);
  const wood = new WoodPart(board);
  const resin = resinPart(board, wood.heights, renderer.capabilities.getMaxAnisotropy());
  const shadow = shadowPart(board);
  const middle = new Group();
  middle.add(shadow, wood.mesh, resin);
  middle.position.set(-board.width_mm / 2, 0, board.height_mm / 2);
  scene.add(middle);
  lights(scene, Math.hypot(board.width_mm, board.height_mm));
  let stood: Stand = { turn_deg: 0, height_deg: 90, distance: 1 };
  let asked = 0;

  function draw(): void {
    asked ||= requestAnimationFrame(() => {
      asked = 0;
      place(camera, stood, board, wood.heights.face_mm);
      renderer.render(scene, camera);
    });
  }

  canvas.addEventListener("webglcontextrestored", draw);
  return {
    show(finished, times) {
      resin.visible = finished;
      shadow.position.y = wood.draw(finished ? 1 : times) - UNDER_MM;
      draw();
    },
    stand(where) {
      stood = where;
      draw();
    },
    fit() {
      const { clientWidth, clientHeight } = canvas;
      if (!clientWidth || !clientHeight) return;
      renderer.setSize(clientWidth, clientHeight, false);
      camera.aspect = clientWidth / clientHeight;
      draw();
    },
    ground(colour) {
      scene.background = new Color(colour);
      draw();
    },
    close() {
      cancelAnimationFrame(asked);
      for (const part of [wood.mesh, resin, shadow]) part.geometry.dispose();
      for (const part of [resin, shadow]) part.material.map?.dispose();
      renderer.dispose();
    },
  };
}

/** The carved wood; its depths can be drawn greater than they are. */
class WoodPart {
  readonly mesh: Mesh<BufferGeometry, MeshStandardMaterial>;
  readonly heights: Heights;
  private readonly true_mm: Float32Array;

  constructor(board: Board3D) {
    this.true_mm = board.mesh.positions_mm.slice();
    this.heights = heightsOf(this.true_mm);
    const geometry = new BufferGeometry();
    geometry.setAttribute("position", new BufferAttribute(board.mesh.positions_mm, 3));
    geometry.setAttribute("color", new BufferAttribute(this.shades(), 3));
    geometry.setIndex(new BufferAttribute(board.mesh.triangles, 1));
    const material = new MeshStandardMaterial({
      color: new Color(board.wood),
      roughness: 0.85,
      flatShading: true,
      vertexColors: true,
    });
    this.mesh = new Mesh(geometry, material);
    this.mesh.frustumCulled = false;
  }

  /** Draw depths so many times as great; return the height of the underside in mm. */
  draw(times: number): number {
    const position = this.mesh.geometry.getAttribute("position");
    let lowest = Infinity;
    for (let i = 0; i < position.count; i += 1) {
      const y = drawnHeight(this.true_mm[3 * i + 1] ?? 0, this.heights, times);
      position.setY(i, y);
      lowest = Math.min(lowest, y);
    }
    position.needsUpdate = true;
    return lowest;
  }

  private shades(): Float32Array {
    const shades = new Float32Array(this.true_mm.length);
    for (let i = 0; i < shades.length; i += 3) {
      shades.fill(shade(this.true_mm[i + 1] ?? 0, this.heights), i, i + 3);
    }
    return shades;
  }
}

function resinPart(
  board: Board3D,
  heights: Heights,
  sharpness: number,
): Mesh<PlaneGeometry, MeshStandardMaterial> {
  const picture = new CanvasTexture(board.face);
  picture.colorSpace = SRGBColorSpace;
  picture.anisotropy = sharpness;
  const material = new MeshStandardMaterial({ map: picture, transparent: true, roughness: 0.3 });
  const face = new Mesh(new PlaneGeometry(board.width_mm, board.height_mm), material);
  face.rotation.x = -Math.PI / 2;
  face.position.set(board.width_mm / 2, heights.face_mm + ABOVE_FACE_MM, -board.height_mm / 2);
  return face;
}

/** A soft shadow on the ground, so that the board is seen to lie. */
function shadowPart(board: Board3D): Mesh<PlaneGeometry, MeshBasicMaterial> {
  const wide = board.width_mm * SHADOW_REACH;
  const tall = board.height_mm * SHADOW_REACH;
  const picture = new CanvasTexture(shadowPicture(wide, tall, board));
  const material = new MeshBasicMaterial({ map: picture, transparent: true, depthWrite: false });
  const shadow = new Mesh(new PlaneGeometry(wide, tall), material);
  shadow.rotation.x = -Math.PI / 2;
  shadow.position.set(board.width_mm / 2, 0, -board.height_mm / 2);
  return shadow;
}

function shadowPicture(wide_mm: number, tall_mm: number, board: Board3D): HTMLCanvasElement {
  const canvas = document.createElement("canvas");
  const scale = SHADOW_PX / Math.max(wide_mm, tall_mm);
  [canvas.width, canvas.height] = [Math.ceil(wide_mm * scale), Math.ceil(tall_mm * scale)];
  const pen = canvas.getContext("2d");
  if (pen === null) return canvas;
  const [width, height] = [board.width_mm * scale, board.height_mm * scale];
  // Drawn out of sight: only its shadow falls on the picture.
  pen.shadowColor = "rgba(0, 0, 0, 0.55)";
  pen.shadowBlur = 0.07 * SHADOW_PX;
  pen.shadowOffsetX = 2 * canvas.width;
  pen.fillRect(
    (canvas.width - width) / 2 - 2 * canvas.width,
    (canvas.height - height) / 2,
    width,
    height,
  );
  return canvas;
}

function lights(scene: Scene, size_mm: number): void {
  const key = new DirectionalLight(0xffffff, 2.1);
  key.position.set(-0.6 * size_mm, size_mm, 0.35 * size_mm);
  const fill = new DirectionalLight(0xffffff, 0.5);
  fill.position.set(size_mm, 0.5 * size_mm, -0.4 * size_mm);
  scene.add(
    key,
    fill,
    new HemisphereLight(0xffffff, 0xb9a894, 0.7),
    new AmbientLight(0xffffff, 0.25),
  );
}

/** Put the camera so that the whole board just fills the picture at distance 1. */
function place(camera: PerspectiveCamera, stand: Stand, board: Board3D, face_mm: number): void {
  const [turn, up] = [rad(stand.turn_deg), rad(stand.height_deg)];
  const back = new Vector3(
    Math.cos(up) * Math.sin(turn),
    Math.sin(up),
    Math.cos(up) * Math.cos(turn),
  );
  const upward = new Vector3(
    -Math.sin(turn) * Math.sin(up),
    Math.cos(up),
    -Math.cos(turn) * Math.sin(up),
  );
  const right = new Vector3(Math.cos(turn), 0, -Math.sin(turn));
  const slope = Math.tan(rad(FIELD_OF_VIEW_DEG) / 2);
  const corners = cornersOf(board, face_mm);
  const across = fit(corners, right, back, slope * camera.aspect);
  const along = fit(corners, upward, back, slope);
  const away = MARGIN * Math.max(across.away, along.away) * stand.distance;
  const middle = right
    .multiplyScalar(across.middle)
    .add(upward.clone().multiplyScalar(along.middle));
  camera.position.copy(middle).addScaledVector(back, away);
  camera.up.copy(upward);
  camera.near = away / 50;
  camera.far = away * 10;
  camera.lookAt(middle);
  camera.updateProjectionMatrix();
}

const rad = (degrees: number): number => (degrees * Math.PI) / 180;

function cornersOf(board: Board3D, face_mm: number): Vector3[] {
  const [x, z] = [board.width_mm / 2, board.height_mm / 2];
  return [0, face_mm].flatMap((y) =>
    [
      [-x, -z],
      [-x, z],
      [x, -z],
      [x, z],
    ].map(([across, along]) => new Vector3(across, y, along)),
  );
}

/**
 * Return how far away the eye must be along `back`, and where between the outermost points, for all
 * of them to lie within the cone of a slope to both sides of it.
 */
function fit(
  points: Vector3[],
  side: Vector3,
  back: Vector3,
  slope: number,
): { away: number; middle: number } {
  const most = Math.max(...points.map((point) => point.dot(side) + point.dot(back) * slope));
  const least = Math.min(...points.map((point) => point.dot(side) - point.dot(back) * slope));
  return { away: (most - least) / (2 * slope), middle: (most + least) / 2 };
}
