/** How things look in the scene. */
import {
  Color,
  DoubleSide,
  FrontSide,
  LineBasicMaterial,
  type Material,
  MeshBasicMaterial,
  MeshStandardMaterial,
  type Plane,
  ShaderMaterial,
  UniformsUtils,
} from 'three';

export interface Tones {
  readonly ink: string;
  readonly cast: string;
  readonly body: string;
  readonly wall: string;
  readonly accent: string;
  readonly dark: boolean;
}

/**
 * Glass: nearly clear where it is looked through, dense at its rims, so that what lies within stays readable and the
 * shape is seen by its outline. Both sides are drawn, the far one first.
 */
function glass(tone: string, clear: number, rim: number): ShaderMaterial {
  return new ShaderMaterial({
    uniforms: UniformsUtils.merge([{ tone: { value: new Color(tone) }, clear: { value: clear }, rim: { value: rim } }]),
    vertexShader: `
      #include <common>
      #include <clipping_planes_pars_vertex>
      varying vec3 vNormal;
      varying vec3 vEye;
      void main() {
        vec4 mvPosition = modelViewMatrix * vec4(position, 1.0);
        vNormal = normalMatrix * normal;
        vEye = -mvPosition.xyz;
        #include <clipping_planes_vertex>
        gl_Position = projectionMatrix * mvPosition;
      }`,
    fragmentShader: `
      #include <common>
      #include <clipping_planes_pars_fragment>
      uniform vec3 tone;
      uniform float clear;
      uniform float rim;
      varying vec3 vNormal;
      varying vec3 vEye;
      void main() {
        #include <clipping_planes_fragment>
        vec3 n = normalize(vNormal);
        float facing = abs(dot(n, normalize(vEye)));
        float edge = pow(1.0 - facing, 2.2);
        float lit = 0.86 + 0.14 * (0.5 + 0.5 * n.y);
        gl_FragColor = vec4(tone * lit, mix(clear, rim, edge));
        #include <colorspace_fragment>
      }`,
    transparent: true,
    depthWrite: false,
    side: DoubleSide,
    clipping: true,
  });
}

/** One look in both its states, made when first asked for: whole, and cut open by a plane. */
export class Looks {
  readonly #make: () => Material;
  #whole: Material | undefined;
  #cut: Material | undefined;

  constructor(make: () => Material) {
    this.#make = make;
  }

  get whole(): Material {
    this.#whole ??= this.#make();
    return this.#whole;
  }

  cut(plane: Plane): Material {
    this.#cut ??= Object.assign(this.#make(), { clippingPlanes: [plane] });
    return this.#cut;
  }
}

/**
 * Every look that was ever asked for, kept for the life of the scene: a graphics card builds a program anew when the last
 * thing that used it is gone, and the page waits for that. There are some dozen of them.
 */
export class Wardrobe {
  readonly #looks = new Map<string, Looks>();

  #kept(key: string, make: () => Material): Looks {
    const known = this.#looks.get(key) ?? new Looks(make);
    this.#looks.set(key, known);
    return known;
  }

  glass(tone: string, clear: number, rim: number): Looks {
    return this.#kept(`glass ${tone} ${clear} ${rim}`, () => glass(tone, clear, rim));
  }

  /** `both`: the inside is seen too, where the thing is cut open. */
  solid(tone: string, both: boolean): Looks {
    return this.#kept(
      `solid ${tone} ${both}`,
      () => new MeshStandardMaterial({ color: tone, roughness: 0.62, metalness: 0, side: both ? DoubleSide : FrontSide }),
    );
  }

  /** An unlit face; `before` draws it over another in the same plane. */
  flat(tone: string, before: boolean): Looks {
    const options = { color: tone, side: DoubleSide, polygonOffset: before, polygonOffsetFactor: -1, polygonOffsetUnits: -4 };
    return this.#kept(`flat ${tone} ${before}`, () => new MeshBasicMaterial(options));
  }

  line(tone: string, opacity: number): Looks {
    return this.#kept(`line ${tone} ${opacity}`, () => new LineBasicMaterial({ color: tone, transparent: true, opacity }));
  }
}
