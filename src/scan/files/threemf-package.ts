/** Where the model is in a 3MF package: the relationship of the package says so. Source: Open Packaging Conventions. */
import { Fault } from '../../model/fault.ts';
import type { Finding } from '../../model/scan.ts';
import { XmlReader } from './xml.ts';
import { shown, type Zip, type ZipEntry } from './zip.ts';

const MODEL = 'http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel';
const USUAL = '3D/3dmodel.model';

/** A part's name in the archive: paths in a package begin at its root, may be escaped and may step up. */
export function entryNameOf(path: string): string {
  let plain = path.replaceAll('\\', '/');
  try {
    plain = decodeURIComponent(plain);
  } catch {
    // A lone % is no escape: the name is taken as it stands.
  }
  const steps: string[] = [];
  for (const step of plain.split('/')) {
    if (step === '..') steps.pop();
    else if (step !== '' && step !== '.') steps.push(step);
  }
  return steps.join('/');
}

/** The part that the package starts from. @throws Fault scan/no-model */
export function findModel(zip: Zip, findings: Finding[]): ZipEntry {
  const target = targetOf(zip);
  const named = target === undefined ? undefined : zip.named(target);
  if (named !== undefined) return named;
  const models = zip.entries.filter((e) => /\.model$/i.test(e.name));
  const found = zip.named(USUAL) ?? (models.length === 1 ? models[0] : undefined);
  if (found === undefined) throw models.length > 1 ? unclear(models) : noModel(zip);
  const why =
    target === undefined
      ? 'The package does not say where its model is'
      : `The package says that its model is ${shown(target)}, which is not in it`;
  findings.push({ code: 'scan/package', level: 'warning', text: `${why}: ${shown(found.name)} is read.` });
  return found;
}

function targetOf(zip: Zip): string | undefined {
  const rels = zip.named('_rels/.rels');
  if (rels === undefined) return undefined;
  const xml = new XmlReader(zip.open(rels), '_rels/.rels');
  let target: string | undefined;
  for (let tag = xml.next(); tag !== 'end'; tag = xml.next()) {
    if (tag !== 'open' || !xml.is('Relationship')) continue;
    const [type, to, mode] = ['Type', 'Target', 'TargetMode'].map((name) => xml.attribute(name)) as [number, number, number];
    if (type < 0 || to < 0 || xml.text(type) !== MODEL || (mode >= 0 && xml.text(mode) === 'External')) continue;
    target ??= entryNameOf(xml.text(to));
  }
  return target;
}

const unclear = (models: readonly ZipEntry[]): Fault =>
  new Fault(
    'scan/no-model',
    `this 3MF holds ${models.length} model parts and does not say which one it starts from: ${models
      .slice(0, 4)
      .map((m) => shown(m.name))
      .join(', ')}`,
    '',
    'Export the scan again, or as STL.',
  );

/** Scans that people put into plain archives. */
const OTHER = /\.(stl|ply|obj|3mf|glb|gltf)(\.gz)?$/i;

function noModel(zip: Zip): Fault {
  const files = zip.entries.filter((e) => !e.name.endsWith('/')).map((e) => shown(e.name));
  const scan = files.find((name) => OTHER.test(name));
  if (scan !== undefined) {
    return new Fault(
      'scan/no-model',
      `this is a zip archive holding ${scan}; no 3D model part in this 3MF`,
      '',
      'Unpack it first, then choose the scan in it.',
    );
  }
  const list = files.length === 0 ? 'nothing' : `${files.slice(0, 3).join(', ')}${files.length > 3 ? ` and ${files.length - 3} more` : ''}`;
  return new Fault('scan/no-model', `no 3D model part in this 3MF: the zip archive holds ${list}`, '', 'Export the scan again, or as STL.');
}
