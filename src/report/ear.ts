/** The survey in a document: places and directions in the scan, lengths mm, areas mm2, angles degrees. */
import { directionToScan, planeToScan, pointToScan } from '../ear/frame.ts';
import { bandsFor, insideWall, type PublishedRow } from '../ear/index.ts';
import { degrees } from '../geometry/trig.ts';
import type { Plane } from '../geometry/vec.ts';
import type { Bend, CanalSection, Ear, EarFrame, Landmark, SetBy } from '../model/ear.ts';
import { round, triple } from './numbers.ts';

const by = (set: SetBy = 'auto'): SetBy => set;

const landmark = (frame: EarFrame, l: Landmark) => ({
  at: triple(pointToScan(frame, l.at)),
  depth: round(l.depth),
  confidence: round(l.confidence),
  set: by(l.set),
});
const bend = (frame: EarFrame, b: Bend | undefined) => (b ? { ...landmark(frame, b), angle: round(degrees(b.angle)) } : null);

/** @param wall the shell's, mm: sections are given inside it too. */
export function earDocument(ear: Ear, wall: number) {
  const { frame: f, rim, crus, isthmus, floor, directions } = ear;
  return {
    side: f.side,
    lateral: triple(f.lateral),
    superior: triple(f.superior),
    anterior: triple(f.anterior),
    directions: { lateral: by(directions?.lateral), superior: by(directions?.superior) },
    aperture: landmark(f, ear.aperture),
    firstBend: bend(f, ear.firstBend),
    secondBend: bend(f, ear.secondBend),
    end: landmark(f, ear.end),
    isthmus: isthmus ? { at: triple(pointToScan(f, isthmus.at)), depth: round(isthmus.depth), area: round(isthmus.area) } : null,
    rim: { ...planeDocument(f, rim.plane), confidence: round(rim.confidence), set: by(rim.set) },
    crus: crus ? { at: triple(pointToScan(f, crus.at)), confidence: round(crus.confidence), set: by(crus.set) } : null,
    floor: floor ? { at: triple(pointToScan(f, floor.at)), depth: round(floor.depth) } : null,
    wall,
    sections: ear.sections.map((s) => sectionDocument(f, s, wall)),
    published: bandsFor(ear).map(publishedDocument),
  };
}

function sectionDocument(f: EarFrame, s: CanalSection, wall: number) {
  const inside = insideWall(s, wall);
  return {
    depth: round(s.depth),
    at: triple(pointToScan(f, s.at)),
    tangent: triple(directionToScan(f, s.tangent)),
    ...sizes(s),
    inside: inside ? sizes(inside) : null,
  };
}

type Sizes = Pick<CanalSection, 'area' | 'major' | 'minor' | 'perimeter' | 'inscribed' | 'circumscribed'>;

const sizes = ({ area, major, minor, perimeter, inscribed, circumscribed }: Sizes) => ({
  area: round(area),
  major: round(major),
  minor: round(minor),
  perimeter: round(perimeter),
  ...(inscribed === undefined ? {} : { inscribed: round(inscribed) }),
  ...(circumscribed === undefined ? {} : { circumscribed: round(circumscribed) }),
});

const publishedDocument = ({ value, percentile, ...row }: PublishedRow) => ({
  ...row,
  value: round(value),
  ...(percentile === undefined ? {} : { percentile: round(percentile) }),
});

export function planeDocument(frame: EarFrame, plane: Plane<'ear'>) {
  const p = planeToScan(frame, plane);
  return { point: triple(p.point), normal: triple(p.normal) };
}
