// The board in three dimensions: wood as it is carved, resin as it shows at the end.

import {
  AmbientLight,
  BoxGeometry,
  BufferAttribute,
  BufferGeometry,
  CanvasTexture,
  Color,
  DirectionalLight,
  Group,
  HemisphereLight,
  Mesh,
  MeshStandardMaterial,
  PerspectiveCamera,
  PlaneGeometry,
  Scene,
  SRGBColorSpace,
  WebGLRenderer,
} from "three";

import type { Stand } from "./camera";
import { drawnHeight, heightsOf, shade, type Heights } from "./depths";
import type { BoardMesh } from "./glb";

const FIELD_OF_VIEW_DEG = 30;
const MOST_PIXEL_RATIO = 2;
/** Resin stands that far above the face, so that both are never drawn at one height. */
const ABOVE_FACE_MM = 0.03;
const BED_MM = 2;

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
  const bed = bedPart(board);
  const middle = new Group();
  middle.add(wood.mesh, resin, bed);
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

  return {
    show(finished, times) {
      resin.visible = finished;
      bed.position.y = wood.draw(finished ? 1 : times) - BED_MM;
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
      for (const part of [wood.mesh, resin, bed]) part.geometry.dispose();
      resin.material.map?.dispose();
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

/** A slab under the board, a little wider, so that its edge is seen against a dark ground. */
function bedPart(board: Board3D): Mesh<BoxGeometry, MeshStandardMaterial> {
  const rim = 0.04 * Math.max(board.width_mm, board.height_mm);
  const shape = new BoxGeometry(board.width_mm + 2 * rim, BED_MM, board.height_mm + 2 * rim);
  const bed = new Mesh(shape, new MeshStandardMaterial({ color: 0x8b8f94, roughness: 1 }));
  bed.position.set(board.width_mm / 2, -BED_MM, -board.height_mm / 2);
  return bed;
}

function lights(scene: Scene, size_mm: number): void {
  const key = new DirectionalLight(0xffffff, 2.1);
  key.position.set(-0.6 * size_mm, size_mm, 0.35 * size_mm);
  const fill = new DirectionalLight(0xffffff, 0.5);
  fill.position.set(size_mm, 0.5 * size_mm, -0.4 * size_mm);
  scene.add(key, fill, new HemisphereLight(0xffffff, 0xb9a894, 0.7), new AmbientLight(0xffffff, 0.25));
}

/** Put the camera so that the whole board is seen at distance 1, whatever the picture's shape. */
function place(camera: PerspectiveCamera, stand: Stand, board: Board3D, face_mm: number): void {
  const half = Math.tan((FIELD_OF_VIEW_DEG * Math.PI) / 360);
  const turn = (stand.turn_deg * Math.PI) / 180;
  const up = (stand.height_deg * Math.PI) / 180;
  const across = Math.abs(board.width_mm * Math.cos(turn)) + Math.abs(board.height_mm * Math.sin(turn));
  const along = Math.abs(board.width_mm * Math.sin(turn)) + Math.abs(board.height_mm * Math.cos(turn));
  const tall = along * Math.sin(up) + 2 * face_mm * Math.cos(up);
  const whole = 1.08 * Math.max(across / (2 * half * camera.aspect), tall / (2 * half)) + along / 2 * Math.cos(up);
  const away = whole * stand.distance;
  camera.position.set(
    away * Math.cos(up) * Math.sin(turn),
    face_mm + away * Math.sin(up),
    away * Math.cos(up) * Math.cos(turn),
  );
  camera.up.set(-Math.sin(turn) * Math.sin(up), Math.cos(up), -Math.cos(turn) * Math.sin(up));
  camera.near = away / 50;
  camera.far = away * 10;
  camera.lookAt(0, face_mm, 0);
  camera.updateProjectionMatrix();
}
