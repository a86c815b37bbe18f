/** One solid written in every format that is read: small, plain writers of our own, straight from each format's specification. */
import { strToU8, zipSync } from 'fflate';
import { binaryFile, type Solid, textFile } from './solids.ts';

const text = (s: string): Uint8Array => strToU8(s);

export const plyText = ({ points, triangles }: Solid): Uint8Array =>
  text(
    `ply\nformat ascii 1.0\ncomment a test\nelement vertex ${points.length}\nproperty double x\nproperty double y\nproperty double z\n` +
      `element face ${triangles.length}\nproperty list uchar int vertex_indices\nend_header\n` +
      `${points.map((p) => p.join(' ')).join('\n')}\n${triangles.map((t) => `3 ${t.join(' ')}`).join('\n')}\n`,
  );

export function plyBinary({ points, triangles }: Solid, little = true): Uint8Array {
  const head = text(
    `ply\nformat binary_${little ? 'little' : 'big'}_endian 1.0\nelement vertex ${points.length}\nproperty double x\nproperty double y\nproperty double z\n` +
      `element face ${triangles.length}\nproperty list uchar int vertex_indices\nend_header\n`,
  );
  const bytes = new Uint8Array(head.length + 24 * points.length + 13 * triangles.length);
  bytes.set(head);
  const view = new DataView(bytes.buffer);
  let at = head.length;
  for (const c of points.flat()) {
    view.setFloat64(at, c, little);
    at += 8;
  }
  for (const t of triangles) {
    view.setUint8(at++, 3);
    for (const v of t) {
      view.setInt32(at, v, little);
      at += 4;
    }
  }
  return bytes;
}

export const obj = ({ points, triangles }: Solid): Uint8Array =>
  text(
    `# a test\no solid\n${points.map((p) => `v ${p.join(' ')}`).join('\n')}\n${triangles.map((t) => `f ${t.map((v) => v + 1).join(' ')}`).join('\n')}\n`,
  );

const MODEL = 'http://schemas.microsoft.com/3dmanufacturing';

export function threeMf({ points, triangles }: Solid, unit = 'millimeter'): Uint8Array {
  const vertices = points.map(([x, y, z]) => `<vertex x="${x}" y="${y}" z="${z}"/>`).join('');
  const faces = triangles.map(([a, b, c]) => `<triangle v1="${a}" v2="${b}" v3="${c}"/>`).join('');
  const model =
    `<?xml version="1.0" encoding="UTF-8"?><model unit="${unit}" xmlns="${MODEL}/core/2015/02"><resources><object id="1" type="model"><mesh>` +
    `<vertices>${vertices}</vertices><triangles>${faces}</triangles></mesh></object></resources><build><item objectid="1"/></build></model>`;
  const relation =
    `<?xml version="1.0" encoding="UTF-8"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">` +
    `<Relationship Target="/3D/model.model" Id="r" Type="${MODEL}/2013/01/3dmodel"/></Relationships>`;
  const types =
    `<?xml version="1.0" encoding="UTF-8"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">` +
    `<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>` +
    `<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>`;
  return zipSync(
    { '[Content_Types].xml': text(types), '_rels/.rels': text(relation), '3D/model.model': text(model) },
    { mtime: '2026-01-01T00:00:00' },
  );
}

/** The JSON and the one buffer of a glTF file; numbers are metres, so the solid's millimetres are divided by `per`. */
function gltfParts({ points, triangles }: Solid, per: number): { json: Record<string, unknown>; buffer: Uint8Array } {
  const positions = Float32Array.from(points.flat().map((c) => c / per));
  const indices = Uint32Array.from(triangles.flat());
  const buffer = new Uint8Array(positions.byteLength + indices.byteLength);
  buffer.set(new Uint8Array(positions.buffer));
  buffer.set(new Uint8Array(indices.buffer), positions.byteLength);
  const axis = (k: number): number[] => points.map((p) => Math.fround((p[k] as number) / per));
  const json = {
    asset: { version: '2.0' },
    scene: 0,
    scenes: [{ nodes: [0] }],
    nodes: [{ mesh: 0 }],
    meshes: [{ primitives: [{ attributes: { POSITION: 0 }, indices: 1 }] }],
    accessors: [
      {
        bufferView: 0,
        componentType: 5126,
        count: points.length,
        type: 'VEC3',
        min: [0, 1, 2].map((k) => Math.min(...axis(k))),
        max: [0, 1, 2].map((k) => Math.max(...axis(k))),
      },
      { bufferView: 1, componentType: 5125, count: indices.length, type: 'SCALAR' },
    ],
    bufferViews: [
      { buffer: 0, byteOffset: 0, byteLength: positions.byteLength },
      { buffer: 0, byteOffset: positions.byteLength, byteLength: indices.byteLength },
    ],
    buffers: [{ byteLength: buffer.length }],
  };
  return { json, buffer };
}

export function gltf(solid: Solid, per = 1000): Uint8Array {
  const { json, buffer } = gltfParts(solid, per);
  const uri = `data:application/octet-stream;base64,${Buffer.from(buffer).toString('base64')}`;
  return text(JSON.stringify({ ...json, buffers: [{ byteLength: buffer.length, uri }] }));
}

export function glb(solid: Solid, per = 1000): Uint8Array {
  const { json, buffer } = gltfParts(solid, per);
  const words = JSON.stringify(json);
  const head = text(words.padEnd(4 * Math.ceil(words.length / 4)));
  const bytes = new Uint8Array(12 + 8 + head.length + 8 + buffer.length);
  const view = new DataView(bytes.buffer);
  const put = (at: number, ...numbers: number[]): void => {
    for (const [k, n] of numbers.entries()) view.setUint32(at + 4 * k, n, true);
  };
  put(0, 0x46546c67, 2, bytes.length, head.length, 0x4e4f534a);
  bytes.set(head, 20);
  put(20 + head.length, buffer.length, 0x004e4942);
  bytes.set(buffer, 28 + head.length);
  return bytes;
}

/** Every writer, by name. */
export const WRITERS: Readonly<Record<string, (s: Solid) => Uint8Array>> = {
  'STL, binary': (s) => binaryFile(s),
  'STL, text': (s) => textFile(s),
  'PLY, text': plyText,
  'PLY, little-endian': (s) => plyBinary(s),
  'PLY, big-endian': (s) => plyBinary(s, false),
  OBJ: obj,
  '3MF': (s) => threeMf(s),
  glTF: (s) => gltf(s),
  GLB: (s) => glb(s),
};
