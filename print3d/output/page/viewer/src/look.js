// Colours and materials. Maps are drawn unlit, so that a colour on the orthosis is the colour on the scale.

import { Color, DoubleSide, FrontSide, MeshBasicMaterial, MeshLambertMaterial } from 'three';

export const NO_VALUE = '#b8b8b8';

/** A function from a value to a CSS colour's parts (0 to 1) on a scale of hex colours. */
export function colourOf(stops, low, high, otherwise = NO_VALUE) {
  const colours = stops.map((stop) => new Color(stop));
  const missing = new Color(otherwise);
  const mixed = new Color();
  return (value) => {
    if (!Number.isFinite(value)) return missing;
    const place = Math.min(1, Math.max(0, (value - low) / (high - low))) * (colours.length - 1);
    const first = Math.min(colours.length - 2, Math.floor(place));
    return mixed.lerpColors(colours[first], colours[first + 1], place - first);
  };
}

/** Unlit colour per vertex, a little darker where a face turns away from the eye. */
export function mapMaterial() {
  const material = new MeshBasicMaterial({ vertexColors: true, side: DoubleSide });
  material.onBeforeCompile = (shader) => {
    shader.vertexShader = shader.vertexShader.replace(
      'void main() {', 'varying vec3 vFacing;\nvoid main() {\n vFacing = normalize(normalMatrix * normal);');
    shader.fragmentShader = shader.fragmentShader
      .replace('void main() {', 'varying vec3 vFacing;\nvoid main() {')
      .replace('#include <opaque_fragment>',
        'outgoingLight *= 0.72 + 0.28 * abs(normalize(vFacing).z);\n#include <opaque_fragment>');
  };
  material.customProgramCacheKey = () => 'facing';
  return material;
}

export function plainMaterial(colour) {
  return new MeshLambertMaterial({ color: colour, side: DoubleSide });
}

/** So little of a part that what lies behind it can be read. */
export function filmMaterial(colour) {
  return new MeshLambertMaterial({ color: colour, side: FrontSide, transparent: true, opacity: 0.16, depthWrite: false });
}

export function limbMaterial(colour, opacity) {
  return new MeshLambertMaterial({ color: colour, side: FrontSide, transparent: true, opacity, depthWrite: false });
}
