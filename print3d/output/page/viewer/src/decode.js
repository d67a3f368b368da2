// Reads what output/page/scene_pack.py writes; see there for the layout.

const PLANES = 3;

/** Unpack base64 text into { side, joints, scales, bodies: [{ name, role, chain, drift, points, faces, fields }] }. */
export async function decode(text) {
  const bytes = Uint8Array.from(atob(text.trim()), (letter) => letter.charCodeAt(0));
  const inflated = new Blob([bytes]).stream().pipeThrough(new DecompressionStream('deflate'));
  const whole = new Uint8Array(await new Response(inflated).arrayBuffer());
  const length = new DataView(whole.buffer).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(whole.subarray(4, 4 + length)));
  if (head.format !== 'print3d scene 2') throw new Error(`unknown scene format ${head.format}`);
  const blob = whole.subarray(4 + length);
  return { ...head, bodies: head.bodies.map((entry) => body(entry, blob)) };
}

function body(entry, blob) {
  const points = interleaved(columns(blob, entry.at.points), (value, axis) => entry.low[axis] + value * entry.step, Float32Array);
  const faces = interleaved(columns(blob, entry.at.faces), (value) => value, Uint32Array);
  const fields = {};
  for (const [name, low] of Object.entries(entry.fieldLows)) {
    const [steps] = columns(blob, entry.at[`field ${name}`]);
    fields[name] = Float32Array.from(steps, (step) => (step === 0 ? NaN : low + (step - 1) * entry.fieldSteps[name]));
  }
  return { ...entry, points, faces, fields };
}

/** Whole numbers of every column, from byte planes of zigzag differences. */
function columns(blob, [start, count, n]) {
  const total = count * n;
  return Array.from({ length: count }, (_, column) => {
    const values = new Int32Array(n);
    let value = 0;
    for (let k = 0; k < n; k++) {
      let zigzag = 0;
      for (let plane = PLANES - 1; plane >= 0; plane--) zigzag = (zigzag << 8) | blob[start + plane * total + column * n + k];
      value += zigzag & 1 ? -((zigzag + 1) >> 1) : zigzag >> 1;
      values[k] = value;
    }
    return values;
  });
}

function interleaved(parts, change, Type) {
  const [n, width] = [parts[0].length, parts.length];
  const result = new Type(n * width);
  for (let axis = 0; axis < width; axis++) for (let k = 0; k < n; k++) result[k * width + axis] = change(parts[axis][k], axis);
  return result;
}
