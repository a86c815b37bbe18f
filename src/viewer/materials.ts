/** How things look in the scene. */
import { Color, DoubleSide, FrontSide, MeshBasicMaterial, MeshStandardMaterial, ShaderMaterial, UniformsUtils } from 'three';

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
export function glass(tone: string, clear: number, rim: number): ShaderMaterial {
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

export const solid = (tone: string, both = false): MeshStandardMaterial =>
  new MeshStandardMaterial({ color: tone, roughness: 0.62, metalness: 0, side: both ? DoubleSide : FrontSide });

/** An unlit face. `before` draws it over another in the same plane. */
export const flat = (tone: string, before = false): MeshBasicMaterial =>
  new MeshBasicMaterial({ color: tone, side: DoubleSide, polygonOffset: before, polygonOffsetFactor: -1, polygonOffsetUnits: -4 });
