// Reading the one mesh of a binary glTF 2.0 file (Khronos specification 2.0, sections 3 and 4.4).

const MAGIC = 0x46546c67;
const JSON_CHUNK = 0x4e4f534a;
const HEAD_BYTES = 12;
const CHUNK_HEAD_BYTES = 8;

export interface BoardMesh {
  /** x to the right, y up, z towards the viewer; millimetres. */
  positions_mm: Float32Array;
  triangles: Uint32Array;
}

interface Accessor {
  bufferView: number;
  count: number;
}

interface Document {
  accessors: Accessor[];
  bufferViews: { byteOffset?: number; byteLength: number }[];
  meshes: { primitives: { attributes: { POSITION: number }; indices: number }[] }[];
}

/** Return the mesh of a board. Throws an Error in words when the bytes are no such file. */
export function readGlb(bytes: ArrayBuffer): BoardMesh {
  const view = new DataView(bytes);
  if (bytes.byteLength < HEAD_BYTES + CHUNK_HEAD_BYTES || view.getUint32(0, true) !== MAGIC) {
    throw new Error("the board's 3D file cannot be read: it is no binary glTF file");
  }
  const length = view.getUint32(HEAD_BYTES, true);
  if (view.getUint32(HEAD_BYTES + 4, true) !== JSON_CHUNK) {
    throw new Error("the board's 3D file cannot be read: it does not start with its description");
  }
  const start = HEAD_BYTES + CHUNK_HEAD_BYTES;
  const text = new TextDecoder().decode(new Uint8Array(bytes, start, length));
  const described = JSON.parse(text) as Document;
  const data = start + length + CHUNK_HEAD_BYTES;
  const primitive = described.meshes[0]?.primitives[0];
  if (primitive === undefined) throw new Error("the board's 3D file holds no board");
  const [from, count] = place(described, primitive.attributes.POSITION);
  const [first, corners] = place(described, primitive.indices);
  return {
    positions_mm: new Float32Array(bytes.slice(data + from, data + from + count * 12)),
    triangles: new Uint32Array(bytes.slice(data + first, data + first + corners * 4)),
  };
}

function place(described: Document, index: number): [number, number] {
  const accessor = described.accessors[index];
  const view = accessor && described.bufferViews[accessor.bufferView];
  if (!accessor || !view) throw new Error("the board's 3D file names data that it does not hold");
  return [view.byteOffset ?? 0, accessor.count];
}
