// One 3D view of a scene: an orthographic camera, parts with maps, the limb, joints, pins, and the value under the pointer.
// It draws only when something changed. Nothing here knows the page around it.

import {
  AmbientLight, Box3, BufferAttribute, BufferGeometry, DirectionalLight, FrontSide, Group, Matrix4, Mesh, OrthographicCamera, Quaternion,
  Raycaster, Scene, SphereGeometry, MeshBasicMaterial, Triangle, Vector2, Vector3, WebGLRenderer,
} from 'three';
import { OrbitControls } from 'three/addons/controls/OrbitControls.js';
import { acceleratedRaycast, computeBoundsTree, disposeBoundsTree } from 'three-mesh-bvh';
import { colourOf, filmMaterial, limbMaterial, mapMaterial, NO_VALUE, plainMaterial } from './look.js';

BufferGeometry.prototype.computeBoundsTree = computeBoundsTree;
BufferGeometry.prototype.disposeBoundsTree = disposeBoundsTree;
Mesh.prototype.raycast = acceleratedRaycast;

const SHELL = '#3b7fb8';
const SKIN = '#e8c9b0';
const STRAP = '#454d54';
const MARKS = { nail: '#fce8e6', crease: '#b3806b' };
const SOLID = ['part', 'strap'];
const PIN = '#b3261e';
const ROOM = 0.9; // of the frame that orthosis and limb fill
const TURN_STEP = Math.PI / 24;
const RADIAL_Y = { right: 1, left: -1 };

/** Whether this browser can draw in 3D. */
export function canDraw() {
  try {
    return Boolean(document.createElement('canvas').getContext('webgl2'));
  } catch {
    return false;
  }
}

export class Viewer {
  /**
   * @param {HTMLElement} element   holds the canvas and takes the keyboard
   * @param {object} scene          from decode()
   * @param {string[]} stops        hex colours of the scale, lowest value first
   */
  constructor(element, scene, stops) {
    this.element = element;
    this.data = scene;
    this.stops = stops;
    this.field = null;
    this.angles = Object.fromEntries(Object.entries(scene.joints).map(([key, joint]) => [key, joint.built]));
    this.listeners = { probe: [], camera: [] };
    this.renderer = new WebGLRenderer({ antialias: true, alpha: false, preserveDrawingBuffer: true });
    this.renderer.setClearColor('#ffffff');
    this.renderer.domElement.setAttribute('aria-hidden', 'true');
    element.append(this.renderer.domElement);
    this.world = new Scene();
    this.camera = new OrthographicCamera();
    this.camera.up.set(0, 0, 1);
    this.#light();
    this.bodies = scene.bodies.map((body) => this.#add(body));
    this.pins = new Group();
    this.world.add(this.pins);
    this.controls = new OrbitControls(this.camera, this.renderer.domElement);
    this.controls.enableDamping = false;
    this.controls.enableZoom = false; // on while the view has the focus, so that a page still scrolls
    this.controls.addEventListener('change', () => this.#cameraMoved());
    this.#watch();
    this.limb(0.45);
    this.resize();
    this.look(scene.look);
  }

  // --- what is shown -------------------------------------------------------------------------------------

  /** Colour what has a map by it, by its name in the scene, or nothing (null). Under a map of the skin the parts are a film. */
  show(field) {
    this.field = field;
    const isOnLimb = this.bodies.some(({ body }) => body.role !== 'part' && body.fields[field]);
    for (const { body, mesh } of this.bodies) {
      const { plain, film, map } = mesh.userData;
      const isMapped = Boolean(field && body.fields[field]);
      if (isMapped) this.#colour(body, mesh, field);
      mesh.material = isMapped ? map : isOnLimb && film ? film : plain;
    }
    this.draw();
  }

  /** Give a part one more map: a number per vertex (NaN where there is none) with the ends of its scale. */
  addField(part, name, values, scale) {
    this.data.scales[name] = scale;
    for (const { body } of this.bodies) if (body.role === 'part' && body.name === part) body.fields[name] = values;
  }

  /** Set the ends of a map's scale, so that several views can share one. */
  scale(field, low, high) {
    this.data.scales[field] = { ...this.data.scales[field], low, high };
    if (this.field === field) this.show(field);
  }

  /** Set how opaque the limb is, 0 to 1; 0 hides it. */
  limb(opacity) {
    this.opacity = opacity;
    for (const { body, mesh } of this.bodies) {
      if (!SOLID.includes(body.role)) mesh.userData.plain.opacity = opacity;
    }
    this.#placeBodies();
  }

  /** Show or hide one part. */
  part(name, isShown) {
    for (const { body, mesh } of this.bodies) if (body.role === 'part' && body.name === name) mesh.visible = isShown;
    this.draw();
  }

  /** Turn a joint to an angle (degrees, flexion positive). */
  joint(key, degrees) {
    this.angles[key] = degrees;
    this.#placeBodies();
  }

  /** Mark a place of the scene (mm) and bring it to the middle; no place takes the mark away. */
  pin(place) {
    this.pins.clear();
    if (place) {
      const ball = new Mesh(new SphereGeometry(1, 24, 16), new MeshBasicMaterial({ color: PIN, depthTest: false, transparent: true }));
      ball.renderOrder = 9;
      ball.position.fromArray(place);
      this.pins.add(ball);
      const shift = new Vector3().fromArray(place).sub(this.controls.target);
      this.controls.target.add(shift);
      this.camera.position.add(shift);
      this.controls.update();
    }
    this.draw();
  }

  // --- the camera ----------------------------------------------------------------------------------------

  /** Look from one side: "dorsal", "volar", "radial", "ulnar" or "tip". Orthosis and limb come into view as a whole. */
  look(from) {
    const radial = new Vector3(0, RADIAL_Y[this.data.side], 0);
    const way = {
      dorsal: new Vector3(0, 0, 1), volar: new Vector3(0, 0, -1), radial, ulnar: radial.clone().negate(), tip: new Vector3(1, 0, 0),
    }[from];
    const up = from === 'dorsal' || from === 'volar' ? new Vector3(1, 0, 0) : new Vector3(0, 0, 1);
    const { middle, size } = this.#extent();
    this.camera.up.copy(up);
    this.controls.object.up.copy(up);
    this.#restartControls(middle);
    this.camera.position.copy(middle).addScaledVector(way, 4 * this.radius);
    const right = new Vector3().crossVectors(up, way).normalize();
    const across = Math.abs(right.dot(size)) || size.length();
    const high = Math.abs(up.dot(size)) || size.length();
    this.camera.zoom = Math.min((this.camera.right - this.camera.left) / across, (this.camera.top - this.camera.bottom) / high) * ROOM;
    this.camera.updateProjectionMatrix();
    this.controls.update();
    this.#cameraMoved();
  }

  /** Step back, from the same side, until every part and every piece of the limb beside it that moves is in the picture. */
  keepInView() {
    const box = new Box3();
    for (const { body, mesh } of this.bodies) {
      if (!mesh.visible || body.role === 'still' || body.role === 'skin' || body.role === 'mark' || (body.role === 'segment' && !body.chain.length)) continue;
      mesh.updateMatrixWorld(true);
      box.union(mesh.geometry.boundingBox.clone().applyMatrix4(mesh.matrixWorld));
    }
    this.camera.updateMatrixWorld();
    const shown = new Box3();
    for (let k = 0; k < 8; k++) {
      const corner = new Vector3(...['x', 'y', 'z'].map((axis, bit) => ((k >> bit) & 1 ? box.max : box.min)[axis]));
      shown.expandByPoint(corner.project(this.camera));
    }
    const reach = Math.max(-shown.min.x, -shown.min.y, shown.max.x, shown.max.y);
    if (reach <= 1) return;
    const middle = box.getCenter(new Vector3());
    const shift = middle.sub(this.controls.target);
    const [wide, high] = [shown.max.x - shown.min.x, shown.max.y - shown.min.y];
    this.camera.zoom *= Math.min(1, 1.8 / Math.max(wide, high));
    this.controls.target.add(shift);
    this.camera.position.add(shift);
    this.camera.updateProjectionMatrix();
    this.controls.update();
    this.#cameraMoved();
  }

  /** Where the camera stands, to be given to another view's `stand`. */
  standing() {
    return {
      position: this.camera.position.toArray(), target: this.controls.target.toArray(), up: this.camera.up.toArray(),
      mmPerPixel: this.mmPerPixel(),
    };
  }

  /** Stand where another view stands; it is not told to the listeners, so that linked views do not answer each other. */
  stand({ position, target, up, mmPerPixel }) {
    this.isFollowing = true;
    this.camera.up.fromArray(up);
    this.#restartControls(new Vector3().fromArray(target));
    this.camera.position.fromArray(position);
    this.camera.zoom = (this.camera.right - this.camera.left) / (this.width * mmPerPixel);
    this.camera.updateProjectionMatrix();
    this.controls.update();
    this.isFollowing = false;
    this.draw();
  }

  mmPerPixel() {
    return (this.camera.right - this.camera.left) / this.camera.zoom / this.width;
  }

  /** Call `listener` on "probe" (what is under the pointer or the cross, or null) or on "camera" (the new standing). */
  on(event, listener) {
    this.listeners[event].push(listener);
  }

  /** What is drawn at a point of the canvas (shares of its width and height): { part, values: { map: mm }, point } or null. */
  probe(x, y) {
    const ray = new Raycaster();
    ray.firstHitOnly = true;
    ray.setFromCamera(new Vector2(2 * x - 1, 1 - 2 * y), this.camera);
    const isOnLimb = this.bodies.some(({ body }) => body.role !== 'part' && body.fields[this.field]);
    const isTarget = ({ body, mesh }) => mesh.visible && (isOnLimb ? body.fields[this.field] : body.role === 'part');
    const targets = this.bodies.filter(isTarget).map(({ mesh }) => mesh);
    const [hit] = ray.intersectObjects(targets, false);
    return hit ? this.#values(hit) : null;
  }

  /** The picture as a PNG data address. */
  picture() {
    this.#drawNow();
    return this.renderer.domElement.toDataURL('image/png');
  }

  /** Fit the canvas to its element. */
  resize() {
    const { clientWidth, clientHeight } = this.element;
    if (!clientWidth || !clientHeight) return;
    const scale = this.width ? this.mmPerPixel() : null;
    [this.width, this.height] = [clientWidth, clientHeight];
    this.renderer.setPixelRatio(Math.min(window.devicePixelRatio, 2));
    this.renderer.setSize(clientWidth, clientHeight);
    const half = this.radius;
    Object.assign(this.camera, {
      left: (-half * clientWidth) / clientHeight, right: (half * clientWidth) / clientHeight, top: half, bottom: -half,
      near: 0.1 * half, far: 12 * half,
    });
    if (scale) this.camera.zoom = (this.camera.right - this.camera.left) / (this.width * scale);
    this.camera.updateProjectionMatrix();
    this.#cameraMoved();
  }

  /** Ask for a new frame. */
  draw() {
    if (this.isAsked) return;
    this.isAsked = true;
    requestAnimationFrame(() => this.#drawNow());
  }

  dispose() {
    this.observer.disconnect();
    this.controls.dispose();
    for (const { mesh } of this.bodies) mesh.geometry.disposeBoundsTree?.();
    this.renderer.dispose();
    this.renderer.domElement.remove();
  }

  // --- inside --------------------------------------------------------------------------------------------

  #drawNow() {
    this.isAsked = false;
    for (const pin of this.pins.children) pin.scale.setScalar(6 * this.mmPerPixel());
    this.renderer.render(this.world, this.camera);
    this.onDraw?.();
  }

  #light() {
    this.world.add(new AmbientLight('#ffffff', 1.5), this.camera);
    const lamp = new DirectionalLight('#ffffff', 1.9);
    lamp.position.set(-0.6, 0.8, 1);
    this.camera.add(lamp);
    this.camera.add(lamp.target);
  }

  #add(body) {
    const geometry = new BufferGeometry();
    geometry.setAttribute('position', new BufferAttribute(body.points, 3));
    geometry.setIndex(new BufferAttribute(body.faces, 1));
    geometry.computeVertexNormals();
    const isPart = body.role === 'part';
    const colour = { part: SHELL, strap: STRAP, mark: MARKS[body.name] }[body.role] ?? SKIN;
    const isSolid = SOLID.includes(body.role);
    const mesh = new Mesh(geometry, isSolid ? plainMaterial(colour) : limbMaterial(colour, 0.45));
    mesh.userData = { plain: mesh.material, map: mapMaterial(), film: isSolid ? filmMaterial(colour) : null, body };
    if (isPart || Object.keys(body.fields).length) geometry.computeBoundsTree();
    if (body.role === 'mark') {
      mesh.renderOrder = 3;
    } else if (!isSolid) {
      mesh.renderOrder = 2;
      mesh.add(foremost(geometry));
    }
    mesh.matrixAutoUpdate = false;
    mesh.matrixWorldAutoUpdate = true;
    this.world.add(mesh);
    geometry.computeBoundingBox();
    const reach = geometry.boundingBox.getSize(new Vector3()).length();
    this.radius = Math.max(this.radius ?? 0, reach);
    return { body, mesh };
  }

  #colour(body, mesh, field) {
    const { low, high, stops } = this.data.scales[field];
    const colour = colourOf(stops?.length ? stops : this.stops, low, high, body.role === 'part' ? NO_VALUE : SKIN);
    const values = body.fields[field];
    const colours = new Float32Array(3 * values.length);
    values.forEach((value, k) => {
      const { r, g, b } = colour(value);
      colours.set([r, g, b], 3 * k);
    });
    mesh.geometry.setAttribute('color', new BufferAttribute(colours, 3));
  }

  #placeBodies() {
    const isMoved = Object.entries(this.angles).some(([key, angle]) => Math.abs(angle - this.data.joints[key].built) > 1e-6);
    for (const { body, mesh } of this.bodies) {
      if (body.role === 'skin') mesh.visible = !isMoved && this.opacity > 0;
      if (body.role === 'segment') mesh.visible = isMoved && this.opacity > 0;
      if (body.role === 'still' || body.role === 'mark') mesh.visible = this.opacity > 0;
      mesh.matrix.copy(this.#placement(body));
      mesh.matrixWorldNeedsUpdate = true;
    }
    this.draw();
  }

  #placement(body) {
    const whole = new Matrix4();
    for (const key of body.chain) {
      const joint = this.data.joints[key];
      whole.multiply(turned(joint, this.angles[key] - joint.built));
    }
    if (body.drift) whole.multiply(drifted(this.data.joints[body.drift.joint], body.drift, this.angles[body.drift.joint]));
    return whole;
  }

  #extent() {
    const low = new Vector3(Infinity, Infinity, Infinity);
    const high = low.clone().negate();
    for (const { body, mesh } of this.bodies) {
      if (body.role !== 'part' && !mesh.visible) continue;
      const box = mesh.geometry.boundingBox.clone().applyMatrix4(this.#placement(body));
      low.min(box.min);
      high.max(box.max);
    }
    return { middle: low.clone().add(high).multiplyScalar(0.5), size: high.sub(low) };
  }

  #restartControls(target) {
    const { enableZoom } = this.controls;
    this.controls.dispose();
    this.controls = new OrbitControls(this.camera, this.renderer.domElement);
    Object.assign(this.controls, { enableDamping: false, enableZoom });
    this.controls.target.copy(target);
    this.controls.addEventListener('change', () => this.#cameraMoved());
  }

  #cameraMoved() {
    this.draw();
    if (!this.isFollowing) for (const listener of this.listeners.camera) listener(this.standing());
  }

  #values(hit) {
    const { body } = hit.object.userData;
    const corners = [hit.face.a, hit.face.b, hit.face.c];
    const local = hit.object.worldToLocal(hit.point.clone());
    const [a, b, c] = corners.map((k) => new Vector3().fromArray(body.points, 3 * k));
    const weights = Triangle.getBarycoord(local, a, b, c, new Vector3());
    const values = {};
    for (const [name, field] of Object.entries(body.fields)) {
      values[name] = field[corners[0]] * weights.x + field[corners[1]] * weights.y + field[corners[2]] * weights.z;
    }
    return { part: body.name, values, point: local.toArray() };
  }

  #watch() {
    const canvas = this.renderer.domElement;
    const tell = (found) => this.listeners.probe.forEach((listener) => listener(found));
    canvas.addEventListener('pointermove', (event) => {
      if (event.buttons) return;
      const box = canvas.getBoundingClientRect();
      tell(this.probe((event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height));
    });
    canvas.addEventListener('pointerdown', (event) => {
      this.element.focus({ preventScroll: true });
      const box = canvas.getBoundingClientRect();
      tell(this.probe((event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height));
    });
    canvas.addEventListener('pointerleave', () => tell(null));
    this.element.addEventListener('focus', () => { this.controls.enableZoom = true; });
    this.element.addEventListener('blur', () => { this.controls.enableZoom = false; });
    this.element.addEventListener('keydown', (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || !this.#key(event)) return;
      event.preventDefault();
      tell(this.probe(0.5, 0.5));
    });
    this.observer = new ResizeObserver(() => this.resize());
    this.observer.observe(this.element);
  }

  #key({ key, shiftKey }) {
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[key];
    if (way && shiftKey) this.#move(...way);
    else if (way) this.#turn(...way);
    else if (key === '+' || key === '=') this.#zoom(1.2);
    else if (key === '-') this.#zoom(1 / 1.2);
    else return false;
    return true;
  }

  #turn(across, up) {
    const arm = this.camera.position.clone().sub(this.controls.target);
    const side = new Vector3().crossVectors(this.camera.up, arm).normalize();
    arm.applyQuaternion(new Quaternion().setFromAxisAngle(this.camera.up, across * TURN_STEP));
    const tipped = arm.clone().applyQuaternion(new Quaternion().setFromAxisAngle(side, -up * TURN_STEP));
    if (Math.abs(tipped.clone().normalize().dot(this.camera.up)) < 0.995) arm.copy(tipped);
    this.camera.position.copy(this.controls.target).add(arm);
    this.controls.update();
    this.#cameraMoved();
  }

  #move(across, up) {
    const step = 0.05 * this.width * this.mmPerPixel();
    const shift = new Vector3(-across * step, -up * step, 0).applyQuaternion(this.camera.quaternion);
    this.controls.target.add(shift);
    this.camera.position.add(shift);
    this.controls.update();
    this.#cameraMoved();
  }

  #zoom(factor) {
    this.camera.zoom *= factor;
    this.camera.updateProjectionMatrix();
    this.controls.update();
    this.#cameraMoved();
  }
}

/** Depth alone, drawn before a translucent body, so that only its nearest side shows. */
function foremost(geometry) {
  const mesh = new Mesh(geometry, new MeshBasicMaterial({ colorWrite: false, side: FrontSide }));
  mesh.renderOrder = 1;
  return mesh;
}

/** The turn of a joint by so many degrees about where it was built. */
function turned(joint, degrees) {
  const centre = new Vector3().fromArray(joint.centre);
  const turn = new Matrix4().makeRotationAxis(new Vector3().fromArray(joint.axis), (degrees * Math.PI) / 180);
  return new Matrix4().makeTranslation(centre).multiply(turn).multiply(new Matrix4().makeTranslation(centre.negate()));
}

/** Where a loose part goes at an angle of its joint, between the angles that were computed on a straight line. */
function drifted(joint, drift, angle) {
  const [tilt, along, dorsal] = [drift.tilts, drift.along, drift.dorsal].map((values) => between(drift.angles, values, angle));
  return turned(joint, tilt).multiply(new Matrix4().makeTranslation(along, 0, dorsal));
}

function between(places, values, at) {
  const last = places.length - 1;
  if (at <= places[0]) return values[0];
  if (at >= places[last]) return values[last];
  const next = places.findIndex((place) => place > at);
  const share = (at - places[next - 1]) / (places[next] - places[next - 1]);
  return values[next - 1] + share * (values[next] - values[next - 1]);
}

/** Make several views show the same place from the same side at the same scale; also as any of them is moved. */
export function link(views) {
  for (const view of views) view.on('camera', (standing) => views.filter((each) => each !== view).forEach((each) => each.stand(standing)));
  views.slice(1).forEach((view) => view.stand(views[0].standing()));
}
