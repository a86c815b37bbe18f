/**
 * The three-dimensional view: cast, body, parts and section, drawn only when something changed. Owns one WebGL context.
 * Everything is given in the ear frame; a left ear's anterior axis is turned round on the way in (see views.ts).
 */
import {
  BufferAttribute,
  BufferGeometry,
  DirectionalLight,
  EdgesGeometry,
  Group,
  HemisphereLight,
  LineLoop,
  LineSegments,
  type Material,
  Mesh,
  type Object3D,
  PerspectiveCamera,
  Plane,
  Raycaster,
  Scene as ThreeScene,
  Vector2,
  Vector3,
  WebGLRenderer,
} from 'three';
import { OrbitControls } from 'three/addons/controls/OrbitControls.js';
import { place } from '../geometry/rotation.ts';
import type { Vec3 } from '../geometry/vec.ts';
import type { Side } from '../model/ear.ts';
import type { Part } from '../model/parts.ts';
import { capOf, loopsOf } from './cap.ts';
import { type Looks, type Tones, Wardrobe } from './materials.ts';
import type { Shaded } from './shade.ts';
import type { Slice } from './slice.ts';
import { eyeOf, mirrorOf, startEye, type ViewName, viewAt, wordFor } from './views.ts';
import { type OnTheWay, stand } from './way.ts';

export interface ScenePart {
  readonly part: Part;
  readonly tone: string;
  readonly solid: readonly Shaded[];
  readonly service: readonly Shaded[];
  /** In the ear frame: where a label points to. */
  readonly middle: Vec3;
}

export interface SceneLayers {
  readonly cast: 'show' | 'fade' | 'hide';
  readonly body: 'show' | 'fade' | 'hide';
  readonly parts: 'show' | 'fade' | 'hide';
  /** hide: none. fade: the outlines. show: cut open there. */
  readonly section: 'show' | 'fade' | 'hide';
}

type Slot = 'cast' | 'body' | 'parts' | 'section';

const FOV = 20;
const FLIGHT = 380; // ms
const PLATE = 'plate';

export class SceneView {
  /** Says in `data-geometries` how many the graphics card holds, so that a leak can be seen from outside. */
  readonly canvas: HTMLCanvasElement;
  /** Called after each picture, for whatever lies over it. */
  onDraw: () => void = () => {};
  readonly #renderer: WebGLRenderer;
  readonly #camera = new PerspectiveCamera(FOV, 1, 1, 1000);
  readonly #controls: OrbitControls;
  readonly #scene = new ThreeScene();
  readonly #ear = new Group();
  readonly #slots = { cast: new Group(), body: new Group(), parts: new Group(), section: new Group() };
  readonly #cut = new Plane();
  readonly #looks = new Wardrobe();
  #side: Side = 'right';
  #tones: Tones;
  #cast: Shaded | undefined;
  #body: Shaded | undefined;
  #parts: readonly ScenePart[] = [];
  #slice: Slice | undefined;
  #way: OnTheWay | undefined;
  #layers: SceneLayers = { cast: 'fade', body: 'fade', parts: 'show', section: 'fade' };
  #asked = 0;
  #flight = 0;
  #size: readonly [number, number] = [1, 1];
  /** Room kept free at the picture's sides for labels, px. */
  margin = 0;

  /** @throws when the context cannot be used; see makeSceneView. */
  constructor(canvas: HTMLCanvasElement, context: WebGL2RenderingContext, tones: Tones) {
    this.canvas = canvas;
    this.#tones = tones;
    this.#renderer = new WebGLRenderer({ canvas, context });
    this.#renderer.localClippingEnabled = true;
    // Asking for a program's log makes the page wait until it is built.
    this.#renderer.debug.checkShaderErrors = false;
    this.#renderer.setClearColor(0, 0);
    this.#controls = new OrbitControls(this.#camera, canvas);
    this.#controls.addEventListener('change', () => this.#later());
    this.#controls.addEventListener('start', () => cancelAnimationFrame(this.#flight));
    const key = new DirectionalLight(0xffffff, 2.1);
    key.position.set(-0.5, 0.9, 1.2);
    this.#camera.add(key);
    this.#scene.add(new HemisphereLight(0xffffff, 0xb9b2a2, 1.5), this.#camera, this.#ear);
    this.#ear.add(this.#slots.parts, this.#slots.section, this.#slots.body, this.#slots.cast);
  }

  /** A new case: its cast, seen from the start. */
  setCase(side: Side, cast: Shaded): void {
    this.#side = side;
    this.#ear.scale.x = mirrorOf(side);
    this.#cast = cast;
    this.#rebuild('cast', 'section');
    this.#look(startEye(side), false);
  }

  setBody(body: Shaded | undefined, parts: readonly ScenePart[]): void {
    this.#body = body;
    this.#parts = parts;
    this.#rebuild('body', 'parts');
  }

  setSlice(slice: Slice | undefined): void {
    this.#slice = slice;
    this.#rebuild('section');
  }

  /** Shows parts on their way into the open shell; undefined: everything in its place again. */
  setWay(way: OnTheWay | undefined): void {
    const before = this.#way;
    this.#way = way;
    if (way?.shell !== before?.shell) this.#rebuild('cast', 'body', 'parts', 'section');
    else this.#takeStands();
    this.#later();
  }

  /** Where a place of a part (ear frame) is now, or undefined while the part is not to be seen. */
  placeOf(id: string, at: Vec3): Vec3 | undefined {
    const where = this.#way?.parts.get(id);
    if (where === 'away') return undefined;
    return where ? place(where, at) : at;
  }

  setLayers(layers: SceneLayers): void {
    this.#layers = layers;
    this.#rebuild('cast', 'body', 'parts', 'section');
  }

  setTones(tones: Tones): void {
    this.#tones = tones;
    this.#rebuild('cast', 'body', 'parts', 'section');
  }

  resize(width: number, height: number): void {
    const first = this.#size[0] === 1;
    this.#size = [width, height];
    this.#renderer.setPixelRatio(Math.min(2, devicePixelRatio));
    this.#renderer.setSize(width, height, false);
    this.#camera.aspect = width / height;
    this.#camera.updateProjectionMatrix();
    if (first && this.#cast) this.#look(startEye(this.#side), false);
    this.#later();
  }

  view(name: ViewName): void {
    this.#look(eyeOf(name, this.#side), true);
  }

  /** Everything that is visible, from where the eye is now. */
  fit(): void {
    const e = this.#eye();
    this.#look([e.x, e.y, e.z], true);
  }

  /** Centres a place (ear frame) and comes nearer. */
  flyTo(at: Vec3): void {
    const target = this.#world(at);
    const distance = Math.min(this.#camera.position.distanceTo(this.#controls.target), 12 / Math.tan((FOV * Math.PI) / 360));
    this.#fly(target, target.clone().addScaledVector(this.#eye(), distance), true);
  }

  /** Turns the eye about the target by degrees, or comes nearer by a factor. */
  turn(right: number, up: number, nearer = 1): void {
    const offset = this.#camera.position.clone().sub(this.#controls.target);
    const polar = Math.acos(Math.max(-1, Math.min(1, offset.y / offset.length()))) - (up * Math.PI) / 180;
    const azimuth = Math.atan2(offset.x, offset.z) + (right * Math.PI) / 180;
    offset.setFromSphericalCoords(offset.length() / nearer, Math.max(0.001, Math.min(Math.PI - 0.001, polar)), azimuth);
    this.#fly(this.#controls.target.clone(), this.#controls.target.clone().add(offset), false);
  }

  /** Where a place (ear frame) is in the picture, px. */
  project(at: Vec3): { x: number; y: number } {
    const p = this.#world(at).project(this.#camera);
    return { x: ((p.x + 1) / 2) * this.#size[0], y: ((1 - p.y) / 2) * this.#size[1] };
  }

  /** The place on the cast that lies nearest to the eye at a place of the picture (px), in the ear frame. */
  castAt(x: number, y: number): Vec3 | undefined {
    const ray = new Raycaster();
    const [wide, high] = this.#size;
    ray.setFromCamera(new Vector2((2 * x) / wide - 1, 1 - (2 * y) / high), this.#camera);
    const hit = ray.intersectObjects(
      this.#slots.cast.children.filter((o) => o instanceof Mesh),
      false,
    )[0];
    if (!hit) return undefined;
    const p = this.#ear.worldToLocal(hit.point.clone());
    return [p.x, p.y, p.z];
  }

  /** Has the open section taken a part away altogether? One that it cuts through is still seen. */
  isCutAway(id: string, middle: Vec3): boolean {
    if (this.#how('section') !== 'show' || !this.#slice) return false;
    return this.#cut.distanceToPoint(this.#world(middle)) < 0 && !this.#slice.parts.some((p) => p.part.id === id);
  }

  /** Which anatomical direction lies to the right and to the top, and the named view if it is one. */
  compass(): { right: ViewName; left: ViewName; top: ViewName; bottom: ViewName; view: ViewName | undefined } {
    const m = this.#camera.matrixWorld.elements;
    const x = [m[0] as number, m[1] as number, m[2] as number] as const;
    const y = [m[4] as number, m[5] as number, m[6] as number] as const;
    const minus = ([a, b, c]: readonly [number, number, number]): readonly [number, number, number] => [-a, -b, -c];
    const word = (d: readonly [number, number, number]): ViewName => wordFor(d, this.#side);
    const e = this.#eye();
    return { right: word(x), left: word(minus(x)), top: word(y), bottom: word(minus(y)), view: viewAt([e.x, e.y, e.z], this.#side) };
  }

  /** Draws at once if a drawing is due. */
  flush(): void {
    if (this.#asked) this.#draw();
  }

  #world(at: Vec3): Vector3 {
    return new Vector3(mirrorOf(this.#side) * at[0], at[1], at[2]);
  }

  #eye(): Vector3 {
    return this.#camera.position.clone().sub(this.#controls.target).normalize();
  }

  #rebuild(...which: Slot[]): void {
    for (const name of which) {
      clear(this.#slots[name]);
      for (const object of this.#make[name]()) this.#slots[name].add(object);
    }
    this.#takeStands();
    this.#later();
  }

  #takeStands(): void {
    for (const part of this.#slots.parts.children) stand(part, this.#way?.parts.get(part.name));
    const plate = this.#slots.body.getObjectByName(PLATE);
    if (plate) stand(plate, this.#way?.plate?.stand);
  }

  /** While parts go in nothing may hide them or cut them open: what is solid becomes glass, and hidden parts are shown. */
  #how(slot: Slot): SceneLayers['cast'] {
    const how = this.#layers[slot];
    if (!this.#way) return how;
    if (slot === 'parts') return how === 'hide' ? 'show' : how;
    return how === 'show' ? 'fade' : how;
  }

  readonly #make: Record<Slot, () => Object3D[]> = {
    cast: () => this.#shell(this.#cast, this.#how('cast'), this.#tones.cast, 0.03, this.#tones.dark ? 0.5 : 0.62, 4),
    body: () => [
      ...this.#shell(this.#way?.shell ?? this.#body, this.#how('body'), this.#tones.body, this.#tones.dark ? 0.13 : 0.17, 0.86, 3),
      ...this.#openingOf(),
      ...this.#plateOf(),
    ],
    parts: () => this.#parts.flatMap((p) => this.#partOf(p)),
    section: () => this.#sectionOf(),
  };

  #shell(shape: Shaded | undefined, how: SceneLayers['cast'], tone: string, clearness: number, rim: number, order: number): Object3D[] {
    if (!shape || how === 'hide') return [];
    const made = how === 'show' ? this.#looks.solid(tone, true) : this.#looks.glass(tone, clearness, rim);
    const mesh = new Mesh(geometryOf(shape), this.#cutting(made));
    mesh.renderOrder = how === 'show' ? 0 : order;
    return [mesh];
  }

  /** The edge that parts go in by. */
  #openingOf(): Object3D[] {
    if (!this.#way) return [];
    const geometry = new BufferGeometry().setAttribute('position', new BufferAttribute(this.#way.rim, 3));
    const line = new LineSegments(geometry, this.#cutting(this.#looks.line(this.#tones.ink, 0.75)));
    line.renderOrder = 5;
    return [line];
  }

  /** The faceplate while it is not in its place. */
  #plateOf(): Object3D[] {
    const shape = this.#way?.plate?.shape;
    if (!shape) return [];
    const geometry = geometryOf(shape);
    const mesh = new Mesh(geometry, this.#cutting(this.#looks.glass(this.#tones.body, 0.24, 0.8)));
    mesh.renderOrder = 3;
    const plate = new Group().add(
      mesh,
      new LineSegments(new EdgesGeometry(geometry, 40), this.#cutting(this.#looks.line(this.#tones.ink, 0.6))),
    );
    plate.name = PLATE;
    return [plate];
  }

  /** Things are cut open by the section where that is asked for. */
  #cutting(looks: Looks): Material {
    return this.#how('section') === 'show' ? looks.cut(this.#cut) : looks.whole;
  }

  #partOf({ part, tone, solid: solids, service }: ScenePart): Object3D[] {
    if (this.#how('parts') === 'hide') return [];
    const faded = this.#how('parts') === 'fade';
    const line = this.#cutting(this.#looks.line(this.#tones.ink, faded ? 0.35 : 0.55));
    const pale = this.#cutting(this.#looks.line(tone, 0.7));
    const made = new Group().add(
      ...solids.flatMap((shape) => {
        const geometry = geometryOf(shape);
        const mesh = new Mesh(geometry, this.#cutting(faded ? this.#looks.glass(tone, 0.25, 0.8) : this.#looks.solid(tone, false)));
        mesh.renderOrder = faded ? 2 : 0;
        return [mesh, new LineSegments(new EdgesGeometry(geometry, 30), line)];
      }),
      // Service room is what flexible things take up where they end: on the way in nothing is asked for it.
      ...(this.#way ? [] : service.map((shape) => new LineSegments(new EdgesGeometry(geometryOf(shape), 14), pale))),
    );
    made.name = part.id;
    return [made];
  }

  #sectionOf(): Object3D[] {
    const slice = this.#slice;
    const section = this.#how('section');
    if (!slice || section === 'hide') return [];
    const out: Object3D[] = [];
    const line = (outlines: Slice['body'], tone: string, opacity: number): void => {
      for (const geometry of loopsOf(slice, outlines)) {
        const loop = new LineLoop(geometry, this.#looks.line(tone, opacity).whole);
        loop.renderOrder = 5;
        out.push(loop);
      }
    };
    if (this.#layers.cast !== 'hide') line(slice.cast, this.#tones.ink, 0.35);
    if (this.#layers.body !== 'hide') {
      line(slice.body, this.#tones.accent, 1);
      if (section === 'show') {
        line(slice.room, this.#tones.ink, 0.8);
        const cap = capOf(slice, slice.body, slice.room);
        if (cap) out.push(new Mesh(cap, this.#looks.flat(this.#tones.wall, false).whole));
      }
    }
    if (section === 'show' && this.#layers.parts === 'show') out.push(...this.#partCaps(slice));
    return out;
  }

  #partCaps(slice: Slice): Object3D[] {
    return slice.parts.flatMap(({ part, solid: outlines }) => {
      const cap = capOf(slice, outlines, []);
      const tone = this.#parts.find((p) => p.part.id === part.id)?.tone;
      return cap && tone ? [new Mesh(cap, this.#looks.flat(tone, true).whole)] : [];
    });
  }

  /** Looks from a direction at everything visible. */
  #look(eye: Vec3, glide: boolean): void {
    const direction = new Vector3(...eye).normalize();
    const { target, distance } = this.#frame(direction);
    this.#fly(target, target.clone().addScaledVector(direction, distance), glide);
  }

  /** The target and distance at which the visible shapes just fill the picture, less its margins. */
  #frame(eye: Vector3): { target: Vector3; distance: number } {
    const shape = this.#layers.cast === 'hide' ? (this.#body ?? this.#cast) : this.#cast;
    if (!shape) return { target: new Vector3(), distance: 100 };
    const up = Math.abs(eye.y) > 0.999 ? new Vector3(0, 0, -Math.sign(eye.y)) : new Vector3(0, 1, 0);
    const x = up.clone().cross(eye).normalize();
    const y = eye.clone().cross(x);
    const lo = new Vector3(Infinity, Infinity, Infinity);
    const hi = new Vector3(-Infinity, -Infinity, -Infinity);
    const p = new Vector3();
    const q = new Vector3();
    const stride = 3 * Math.max(1, Math.floor(shape.positions.length / 3 / 4000));
    for (let i = 0; i < shape.positions.length; i += stride) {
      p.set(mirrorOf(this.#side) * (shape.positions[i] as number), shape.positions[i + 1] as number, shape.positions[i + 2] as number);
      q.set(p.dot(x), p.dot(y), p.dot(eye));
      lo.min(q);
      hi.max(q);
    }
    const middle = lo.clone().add(hi).multiplyScalar(0.5);
    const half = hi.sub(lo).multiplyScalar(0.5);
    const [w, h] = this.#size;
    const usableX = Math.max(0.45, 1 - (2 * this.margin) / w);
    const t = Math.tan((FOV * Math.PI) / 360);
    const distance = Math.max(half.y / t / 0.88, half.x / (t * (w / h)) / usableX) + half.z;
    const target = x.multiplyScalar(middle.x).addScaledVector(y, middle.y).addScaledVector(eye, middle.z);
    return { target, distance };
  }

  #fly(target: Vector3, position: Vector3, glide: boolean): void {
    cancelAnimationFrame(this.#flight);
    const fromTarget = this.#controls.target.clone();
    const from = this.#camera.position.clone().sub(fromTarget);
    const to = position.clone().sub(target);
    const start = performance.now();
    const land = (s: number): void => {
      const ease = s * s * (3 - 2 * s);
      this.#controls.target.lerpVectors(fromTarget, target, ease);
      const direction = from.clone().normalize().lerp(to.clone().normalize(), ease).normalize();
      const length = from.length() + (to.length() - from.length()) * ease;
      this.#camera.position
        .copy(this.#controls.target)
        .addScaledVector(s === 1 ? to.clone().normalize() : direction, s === 1 ? to.length() : length);
      this.#camera.near = Math.max(1, length - 80);
      this.#camera.far = length + 120;
      this.#camera.updateProjectionMatrix();
      this.#controls.update();
      this.#later();
    };
    // Opposite directions have no way between them: jump.
    if (!glide || matchMedia('(prefers-reduced-motion: reduce)').matches || from.length() < 1 || from.angleTo(to) > 3.1) {
      land(1);
      return;
    }
    const step = (now: number): void => {
      const s = Math.min(1, (now - start) / FLIGHT);
      land(s);
      if (s < 1) this.#flight = requestAnimationFrame(step);
    };
    this.#flight = requestAnimationFrame(step);
  }

  #later(): void {
    if (!this.#asked) this.#asked = requestAnimationFrame(() => this.#draw());
  }

  #draw(): void {
    cancelAnimationFrame(this.#asked);
    this.#asked = 0;
    if (this.#slice) this.#placeCut(this.#slice);
    this.#renderer.render(this.#scene, this.#camera);
    this.canvas.dataset['geometries'] = String(this.#renderer.info.memory.geometries);
    this.onDraw();
  }

  /** The half that the eye is in is taken away, so that the cut face is always seen. */
  #placeCut(slice: Slice): void {
    const at = this.#world(slice.plane.point);
    const n = this.#world(slice.plane.normal);
    if (this.#camera.position.clone().sub(at).dot(n) > 0) n.negate();
    this.#cut.setFromNormalAndCoplanarPoint(n, at);
  }
}

function geometryOf(shape: Shaded): BufferGeometry {
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new BufferAttribute(shape.positions, 3));
  geometry.setAttribute('normal', new BufferAttribute(shape.normals, 3));
  geometry.setIndex(new BufferAttribute(shape.indices, 1));
  return geometry;
}

/** Takes everything out of a group and gives its geometry back; the looks stay, so that no program is built twice. */
function clear(group: Group): void {
  for (const child of [...group.children]) {
    group.remove(child);
    child.traverse((object) => {
      if (object instanceof Mesh || object instanceof LineSegments || object instanceof LineLoop) object.geometry.dispose();
    });
  }
}

/** The view in `host`, or undefined where there is no WebGL 2. */
export function makeSceneView(host: HTMLElement, tones: Tones): SceneView | undefined {
  const canvas = document.createElement('canvas');
  const context = canvas.getContext('webgl2', { alpha: true, antialias: true, preserveDrawingBuffer: true });
  if (!context) return undefined;
  host.prepend(canvas);
  return new SceneView(canvas, context, tones);
}
