import { Group, Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { areaOf, volumeOf } from '../../src/geometry/mesh.ts';
import { seeded } from '../../src/geometry/random.ts';
import { place, unitQuat } from '../../src/geometry/rotation.ts';
import { distance, type Pose, pointAt, pt } from '../../src/geometry/vec.ts';
import { placeLabels } from '../../src/viewer/labels.ts';
import { motionBetween, openingOf, openShell, plateOf, stand } from '../../src/viewer/way.ts';
import { ellipticTube } from '../support/bodies.ts';
import { faultsOf, isClosed } from '../support/validate.ts';

/** A straight round tube of radius 4, 12 mm deep, its outer cut at z = 0: 96 chords a ring. */
const body = ellipticTube(8, 8, 12);
const CHORD = 2 * 4 * Math.sin(Math.PI / 96);
const DISC = 48 * Math.sin((2 * Math.PI) / 96) * 16; // the 96-gon's area, textbook

describe('the shell that parts go into', () => {
  test('is the body less its lid, and loses nothing else', () => {
    expect(areaOf(body.mesh) - areaOf(openShell(body))).toBeCloseTo(DISC, 9);
    expect([isClosed(body.mesh), isClosed(openShell(body))]).toEqual([true, false]);
  });

  test('its opening is drawn once round, in the plane of the cut', () => {
    const rim = openingOf(body);
    expect(rim.length).toBe(6 * 96);
    let long = 0;
    for (let i = 0; i < rim.length; i += 6) {
      const [a, b] = [pointAt(rim, i / 3), pointAt(rim, i / 3 + 1)];
      expect(Math.abs(a[2]) + Math.abs(b[2])).toBe(0);
      long += distance(a, b);
    }
    expect(long).toBeCloseTo(96 * CHORD, 4);
  });

  test('the faceplate is closed, faces outwards, and is as thick as asked behind the outer cut', () => {
    const plate = plateOf(body, 0.8);
    if (!plate) throw new Error('no plate');
    expect(faultsOf(plate)).toEqual([]);
    expect(volumeOf(plate)).toBeCloseTo(0.8 * DISC, 9);
    const heights = Array.from(plate.positions.filter((_, i) => i % 3 === 2));
    expect(Math.max(...heights)).toBeCloseTo(0, 12);
    expect(Math.min(...heights)).toBeCloseTo(-0.8, 12);
  });

  test('a body that is closed all round has neither', () => {
    const sealed = { ...body, cuts: body.cuts.filter((c) => c.name !== 'outer'), face: body.face.map(() => 0) };
    expect(plateOf(sealed, 0.8)).toBeUndefined();
    expect(openingOf(sealed)).toHaveLength(0);
    expect(openShell(sealed).indices).toEqual(body.mesh.indices);
  });
});

describe('where a part stands', () => {
  const random = seeded(11);
  const some = (): number => random.between(-20, 20);
  const anyPose = (): Pose<'ear'> => ({
    position: pt(some(), some(), some()),
    quaternion: unitQuat([random.normal(), random.normal(), random.normal(), random.normal()]),
  });

  test('the motion takes every point of a part from its place to where it is, also as the scene draws it', () => {
    for (let k = 0; k < 300; k++) {
      const [home, now] = [anyPose(), anyPose()];
      const local = pt<'ear'>(some(), some(), some());
      const motion = motionBetween(home, now);
      const wanted = place(now, local);
      const drawn = place(home, local);
      expect(distance(place(motion, drawn), wanted)).toBeLessThan(1e-9);
      // three's own arithmetic, which shares nothing with ours.
      const group = new Group();
      stand(group, motion);
      group.updateMatrixWorld();
      const seen = new Vector3(drawn[0], drawn[1], drawn[2]).applyMatrix4(group.matrixWorld);
      expect(distance([seen.x, seen.y, seen.z], wanted)).toBeLessThan(1e-9);
    }
  });

  test('back in its place nothing is left of the motion; what is away is not seen', () => {
    const group = new Group();
    stand(group, motionBetween(anyPose(), anyPose()));
    stand(group, 'away');
    expect(group.visible).toBe(false);
    stand(group, undefined);
    group.updateMatrixWorld();
    expect(group.visible).toBe(true);
    expect(group.matrixWorld.elements).toEqual(new Group().matrixWorld.elements);
  });
});

test('the label of a part on its way stays on the side where it belongs', () => {
  const box = { width: 80, height: 20 };
  const still = placeLabels([{ ...box, x: 500, y: 200 }], 800, 400);
  const moving = placeLabels([{ ...box, x: 200, y: 200, home: 500 }], 800, 400);
  expect(moving).toEqual(still);
  expect(placeLabels([{ ...box, x: 200, y: 200 }], 800, 400)[0]?.side).toBe('left');
});
