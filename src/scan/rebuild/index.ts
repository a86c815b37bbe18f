/**
 * A surface that passes through itself, or bodies that pass through one another, made anew as one body: what the winding
 * number says is inside (`winding.ts`), as a net of even triangles whose vertices lie on the old surface. Sound surfaces
 * never come here: a new net rounds every edge by about its step.
 */
import { TriangleTree } from '../../geometry/bvh.ts';
import { areaOf, boundsOf, faceNormals, type Mesh, triangleCount } from '../../geometry/mesh.ts';
import { polygonise } from '../../geometry/polygonise.ts';
import { dot, type Plane, pointAt, pt } from '../../geometry/vec.ts';
import type { Base, Finding } from '../../model/scan.ts';
import type { Crossings } from '../judge/crossings.ts';
import { joinEdges } from '../mend/joins.ts';
import { extractPiece, orient, sumPieces } from '../mend/orient.ts';
import { largestPiece } from '../mend/pieces.ts';
import { counted, fixed } from '../wording.ts';
import { WindingTree } from './winding.ts';

/** A place where a surface crosses itself over less than this, mm, is named and left: a new net would cost more than it mends. */
const LARGE = 2;
/** So many cells for the surface; fewer make it coarser than scans are, more take seconds. */
const CELLS = 16_000;
/** Steps of the net, mm. */
const STEP = [0.2, 1] as const;
/** So near to the point asked before, mm, its sign will do: the steps by which a slope is felt. */
const HAIR = 2e-4;
/** Grids that are tried. */
const GRIDS = 3;
/** How far either side of a vertex is asked to tell whether it lies on the outside, mm. */
const BESIDE = 0.01;

/** So far beside a crossing the surface must wind round a point twice, or the wrong way round, mm: sheets that merely graze do not. */
const DEEP = 0.4;

/** Is a crossing so large and deep that what is inside is in doubt? */
export function crossesDeeply(mesh: Mesh<'scan'>, { places }: Crossings): boolean {
  const large = places.filter((p) => p.size >= LARGE);
  if (large.length === 0) return false;
  const winding = new WindingTree(mesh);
  return large.some(({ at }) => AROUND.some(([x, y, z]) => doubtful(winding.at(at[0] + DEEP * x, at[1] + DEEP * y, at[2] + DEEP * z))));
}

const doubtful = (turns: number): boolean => turns > 1.5 || turns < -0.5;

/** The place itself, and the directions to a cube's faces and corners. */
const AROUND = [-1, 0, 1].flatMap((x) => [-1, 0, 1].flatMap((y) => [-1, 0, 1].map((z) => [x, y, z] as const)));

export interface Rebuilt {
  readonly mesh: Mesh<'scan'>;
  /** Step of the net, mm. */
  readonly step: number;
  /** How far vertices of the old outside lie from the new surface, mm. */
  readonly most: number;
  readonly p95: number;
}

/**
 * `mesh` is closed (it may pass through itself and hold several bodies), outward. Undefined where no closed net could be
 * made or nothing is inside.
 */
export function rebuildSurface(mesh: Mesh<'scan'>): Rebuilt | undefined {
  const winding = new WindingTree(mesh);
  const step = Math.min(STEP[1], Math.max(STEP[0], Math.sqrt(areaOf(mesh) / CELLS)));
  const { min, max } = boundsOf<'scan'>(mesh.positions);
  const net = polygonise(
    signedDistance(winding),
    min.map((c) => c - 2 * step),
    max.map((c) => c + 2 * step),
    step,
    GRIDS,
  );
  if (!net || net.indices.length === 0) return undefined;
  const made = largest({ frame: 'scan', ...net });
  return { mesh: made, step, ...farOf(mesh, winding, made) };
}

/**
 * Distance to the nearest triangle, negative where more than half a turn winds round the point. Round a closed surface the
 * winding number is the same along any way that crosses no triangle: near the point asked before, its sign is known.
 */
function signedDistance(winding: WindingTree): (x: number, y: number, z: number) => number {
  const { tree } = winding;
  const before = { x: 0, y: 0, z: 0, free: 0, sign: 1, hint: -1 };
  return (x, y, z) => {
    const near = tree.nearest(pt(x, y, z), Infinity, before.hint);
    if (!near) return Infinity;
    const dx = x - before.x;
    const dy = y - before.y;
    const dz = z - before.z;
    const free = Math.max(before.free, HAIR);
    const same = dx * dx + dy * dy + dz * dz < free * free;
    const sign = same ? before.sign : winding.at(x, y, z) > 0.5 ? -1 : 1;
    Object.assign(before, { x, y, z, free: near.distance, sign, hint: near.triangle });
    return sign * near.distance;
  };
}

function largest(mesh: Mesh<'scan'>): Mesh<'scan'> {
  const { twin } = joinEdges(mesh.indices, mesh.positions.length / 3);
  const oriented = orient(mesh.indices, twin);
  if (oriented.pieces === 1) return mesh;
  const sums = sumPieces(mesh, twin, oriented);
  return { frame: 'scan', ...extractPiece(mesh, twin, oriented, largestPiece(sums)).surface };
}

/** Distances from the vertices of the old surface that lie on its outside to the new one. */
function farOf(old: Mesh<'scan'>, winding: WindingTree, made: Mesh<'scan'>): { most: number; p95: number } {
  const tree = new TriangleTree(made);
  const normals = faceNormals(old);
  const asked = new Uint8Array(old.positions.length / 3);
  const far: number[] = [];
  for (let h = 0; h < old.indices.length; h++) {
    const v = old.indices[h] as number;
    if (asked[v] === 1) continue;
    const n = 4 * Math.floor(h / 3);
    if ((normals[n + 3] as number) === 0) continue;
    asked[v] = 1;
    const p = pointAt<'scan'>(old.positions, v);
    const side = (s: number): number =>
      winding.at(
        p[0] + s * BESIDE * (normals[n] as number),
        p[1] + s * BESIDE * (normals[n + 1] as number),
        p[2] + s * BESIDE * (normals[n + 2] as number),
      );
    if (side(1) > 0.5 || side(-1) < 0.5) continue; // within the body, or a sheet that bounds nothing
    far.push(tree.nearest(p)?.distance ?? 0);
  }
  far.sort((a, b) => a - b);
  return { most: far.at(-1) ?? 0, p95: far[Math.floor(0.95 * far.length)] ?? 0 };
}

/** Which triangles of a rebuilt body lie on its base. */
export function capOn(mesh: Mesh<'scan'>, plane: Plane<'scan'>, step: number): Base {
  const normals = faceNormals(mesh);
  const cap = new Uint8Array(triangleCount(mesh));
  for (let t = 0; t < cap.length; t++) {
    const n = pt<'scan'>(normals[4 * t] as number, normals[4 * t + 1] as number, normals[4 * t + 2] as number);
    const p = pointAt<'scan'>(mesh.positions, mesh.indices[3 * t] as number);
    const height = dot(plane.normal, p) - dot(plane.normal, plane.point);
    cap[t] = dot(n, plane.normal) > 0.9 && Math.abs(height) < step ? 1 : 0;
  }
  return { plane, cap };
}

/** Says why and how near. */
export function nameRebuilt({ mesh, step, most, p95 }: Rebuilt, why: string, findings: Finding[]): void {
  findings.push({
    code: 'scan/rebuilt',
    level: 'warning',
    text: `${why}: made anew from its winding number on a grid of ${fixed(step, 2)} mm, ${counted(triangleCount(mesh), 'triangle')}. 95 % of the scan's outer points lie within ${fixed(p95, 3)} mm of it, all within ${fixed(most, 2)} mm.`,
    count: triangleCount(mesh),
  });
}
