import { describe, expect, test } from 'vitest';
import {
  directionToEar,
  directionToScan,
  meshToEar,
  meshToScan,
  planeToEar,
  planeToScan,
  pointToEar,
  pointToScan,
  poseToEar,
  poseToScan,
} from '../../src/ear/frame.ts';
import { volumeOf } from '../../src/geometry/mesh.ts';
import { seeded } from '../../src/geometry/random.ts';
import { place, rotate, unitQuat } from '../../src/geometry/rotation.ts';
import { cross, distance, heightOver, length, normalize, type Point, type Pose, pt, scale, sub } from '../../src/geometry/vec.ts';
import type { EarFrame, Side } from '../../src/model/ear.ts';
import { blockMesh } from '../support/bodies.ts';

function frameOf(side: Side, seed: number): EarFrame {
  const r = seeded(seed);
  const q = unitQuat([r.normal(), r.normal(), r.normal(), r.normal()]);
  const turned = (v: readonly [number, number, number]): Point<'scan'> => pt(...rotate(q, v));
  return {
    side,
    origin: pt(r.between(-50, 50), r.between(-50, 50), r.between(-50, 50)),
    // Right: anterior x superior = lateral (facing a right ear from its side, the face is to the right). Left: its mirror image.
    anterior: turned(side === 'right' ? [1, 0, 0] : [-1, 0, 0]),
    superior: turned([0, 1, 0]),
    lateral: turned([0, 0, 1]),
  };
}

describe.each(['right', 'left'] as const)('%s ear', (side) => {
  const frame = frameOf(side, 7);
  const r = seeded(8);
  const somewhere = <F extends 'ear' | 'scan'>(): Point<F> => pt<F>(r.between(-20, 20), r.between(-20, 20), r.between(-20, 20));

  test('there and back', () => {
    const p = somewhere<'scan'>();
    expect(distance(pointToScan(frame, pointToEar(frame, p)), p)).toBeLessThan(1e-12 * 100);
    const d = normalize(somewhere<'ear'>());
    expect(distance(directionToEar(frame, directionToScan(frame, d)), d)).toBeLessThan(1e-13);
  });

  test('distances stay, the ear axes are the unit axes', () => {
    const [p, q] = [somewhere<'ear'>(), somewhere<'ear'>()];
    expect(distance(pointToScan(frame, p), pointToScan(frame, q))).toBeCloseTo(distance(p, q), 12);
    expect(distance(directionToEar(frame, frame.anterior), [1, 0, 0])).toBeLessThan(1e-14);
    expect(distance(directionToEar(frame, frame.superior), [0, 1, 0])).toBeLessThan(1e-14);
    expect(distance(directionToEar(frame, frame.lateral), [0, 0, 1])).toBeLessThan(1e-14);
  });

  test('a point keeps its height over a plane', () => {
    const plane = { point: somewhere<'ear'>(), normal: normalize(somewhere<'ear'>()) };
    const p = somewhere<'ear'>();
    expect(heightOver(planeToScan(frame, plane), pointToScan(frame, p))).toBeCloseTo(heightOver(plane, p), 11);
    const back = planeToEar(frame, planeToScan(frame, plane));
    expect(distance(back.normal, plane.normal)).toBeLessThan(1e-13);
  });

  test('a mesh stays outward and keeps its volume', () => {
    const ear = blockMesh([-1, -2, -3], [4, 5, 6]);
    const scan = meshToScan(frame, ear);
    expect(volumeOf(scan)).toBeCloseTo(5 * 7 * 9, 9);
    expect(volumeOf(meshToEar(frame, scan))).toBeCloseTo(5 * 7 * 9, 9);
  });

  test('a box in its scan pose has the corners that it has in its ear pose', () => {
    const half = [1.5, 2, 3.25] as const;
    const pose: Pose<'ear'> = { position: somewhere<'ear'>(), quaternion: unitQuat([r.normal(), r.normal(), r.normal(), r.normal()]) };
    const inScan = poseToScan(frame, pose);
    const corners = [-1, 1].flatMap((x) => [-1, 1].flatMap((y) => [-1, 1].map((z) => [x * half[0], y * half[1], z * half[2]] as const)));
    for (const corner of corners) {
      const wanted = pointToScan(frame, place(pose, corner));
      const least = Math.min(...corners.map((c) => distance(place(inScan, c), wanted)));
      expect(least).toBeLessThan(1e-12 * 100);
    }
    expect(length(scale(pt<'scan'>(...rotate(inScan.quaternion, [1, 0, 0])), 1))).toBeCloseTo(1, 13);
  });

  test("a capsule's axis and a faceplate part's outward side keep their directions", () => {
    const pose: Pose<'ear'> = { position: somewhere<'ear'>(), quaternion: unitQuat([0.2, -0.5, 0.7, 0.4]) };
    const inScan = poseToScan(frame, pose);
    const axis = directionToScan(frame, pt(...rotate(pose.quaternion, [0, 0, 1])));
    expect(distance(pt<'scan'>(...rotate(inScan.quaternion, [0, 0, 1])), axis)).toBeLessThan(1e-12);
  });

  test('a pose comes back', () => {
    const pose: Pose<'ear'> = { position: somewhere<'ear'>(), quaternion: unitQuat([0.2, -0.5, 0.7, 0.4]) };
    const back = poseToEar(frame, poseToScan(frame, pose));
    expect(distance(back.position, pose.position)).toBeLessThan(1e-12 * 100);
    for (const v of [
      [1, 0, 0],
      [0, 1, 0],
      [0, 0, 1],
    ] as const) {
      expect(length(sub(pt<'ear'>(...rotate(back.quaternion, v)), pt<'ear'>(...rotate(pose.quaternion, v))))).toBeLessThan(1e-12);
    }
  });
});

test('the frames of the two sides are mirror images: right turns right-handed, left left-handed', () => {
  const right = frameOf('right', 3);
  const left = frameOf('left', 3);
  expect(distance(cross(right.anterior, right.superior), right.lateral)).toBeLessThan(1e-13);
  expect(distance(cross(left.anterior, left.superior), scale(left.lateral, -1))).toBeLessThan(1e-13);
});
